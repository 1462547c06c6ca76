DROP TABLE tool_estimates, tool_disposals, tool_uses, tools;
