DROP TABLE settlements, invoices, clawbacks, promises_kept, instalments_due, deal_shares;
DROP FUNCTION promise_kept_once();
ALTER TABLE gifts DROP COLUMN deal_id;
DROP TABLE instalments, promises, deals;
