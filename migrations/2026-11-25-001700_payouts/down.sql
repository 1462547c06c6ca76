DROP TABLE payouts;
