DROP FUNCTION forget_old_answers();
DROP TABLE idempotency_answers, audit_lines, postings, entries, accounts, record_reversals, record_links CASCADE;
DROP FUNCTION entry_balances();
DROP FUNCTION entry_follows();
DROP TABLE records CASCADE;
