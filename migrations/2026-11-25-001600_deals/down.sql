DROP TABLE clawbacks, instalments_due, deal_shares;
ALTER TABLE gifts DROP COLUMN deal_id;
DROP TABLE instalments, promises, deals;
