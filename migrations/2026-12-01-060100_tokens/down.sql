DROP FUNCTION note_token_use(uuid, uuid);
DROP FUNCTION books_of_token(bytea, uuid);
ALTER TABLE audit_lines ADD FOREIGN KEY (about_books) REFERENCES books;
ALTER TABLE tokens DROP CONSTRAINT tokens_books_id_hash_key, ADD UNIQUE (hash);
COMMENT ON COLUMN tokens.hash IS 'SHA-256 of the token. It is unique over all books, since it alone says which books are meant.';
DROP TABLE token_directory;
CREATE FUNCTION books_of_token(asked bytea) RETURNS TABLE (books_id uuid, token_id uuid, scope text, cursor_key bytea)
    LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = public
    AS $$
        -- To the minute, and never waiting for another request of the same token: a look must not become a write.
        UPDATE tokens SET last_used_at = now() WHERE hash = (
            SELECT hash FROM tokens
            WHERE hash = asked AND revoked_at IS NULL AND (expires_at IS NULL OR expires_at > now())
              AND (last_used_at IS NULL OR last_used_at < now() - interval '1 minute')
            FOR UPDATE SKIP LOCKED);
        SELECT tokens.books_id, tokens.id, tokens.scope, books.cursor_key FROM tokens JOIN books USING (books_id)
        WHERE hash = asked AND revoked_at IS NULL AND (expires_at IS NULL OR expires_at > now())
    $$;
ALTER FUNCTION books_of_token(bytea) OWNER TO ledgerboard_door;
REVOKE ALL ON FUNCTION books_of_token(bytea) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION books_of_token(bytea) TO ledgerboard_service;
COMMENT ON FUNCTION books_of_token(bytea) IS 'Which books a live token opens; the only look across books that a request takes.';
