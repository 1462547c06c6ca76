DROP TABLE carry_overs, tool_charges, period_acts, tax_year_elections;
