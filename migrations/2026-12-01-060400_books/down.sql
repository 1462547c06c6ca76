DROP TRIGGER books_are_here ON audit_lines;
DROP FUNCTION books_are_here();
ALTER TABLE books DROP COLUMN moved_to, DROP COLUMN moved_at;
