DROP FUNCTION books_of_token(bytea);
DROP TABLE tokens;
