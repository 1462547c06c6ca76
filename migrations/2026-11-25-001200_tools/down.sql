DROP TABLE tool_disposals, tool_uses, tools;
