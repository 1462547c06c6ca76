DROP TABLE tool_repairs, tool_improvements, tool_business_shares, tool_estimates, tool_disposals, tool_uses, tools;
DROP FUNCTION share_stated_once();
