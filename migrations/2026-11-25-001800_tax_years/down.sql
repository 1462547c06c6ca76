DROP TABLE period_acts, tax_year_elections;
