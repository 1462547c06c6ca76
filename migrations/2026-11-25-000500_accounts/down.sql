DROP TABLE money_accounts;
