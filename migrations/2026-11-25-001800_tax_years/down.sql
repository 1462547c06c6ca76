DROP TABLE filed_lines, filings, home_office_areas, home_offices, carry_overs, tool_charges, period_acts, tax_year_elections;
DROP FUNCTION home_office_stated_once();
