DROP TABLE tool_charges, period_acts, tax_year_elections;
