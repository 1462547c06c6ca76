DROP FUNCTION books_on_this_server();
DROP TABLE books;
DROP PROCEDURE fence_append_only;
DROP PROCEDURE fence;
DROP FUNCTION refuse_change();
DROP FUNCTION current_books();
DROP DOMAIN share_percent, hours_amount, quantity_amount, money_amount;
REVOKE ALL ON SCHEMA public FROM ledgerboard_door, ledgerboard_service;
