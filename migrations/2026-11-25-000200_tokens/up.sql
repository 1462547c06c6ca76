CREATE TABLE tokens (
    books_id uuid NOT NULL REFERENCES books,
    id uuid NOT NULL,
    name text NOT NULL CHECK (name <> ''),
    scope text NOT NULL CHECK (scope IN ('read', 'record', 'close', 'admin')),
    hash bytea NOT NULL UNIQUE CHECK (octet_length(hash) = 32),
    created_at timestamptz NOT NULL DEFAULT now(),
    expires_at timestamptz,
    revoked_at timestamptz,
    last_used_at timestamptz,
    replaces uuid,
    PRIMARY KEY (books_id, id),
    FOREIGN KEY (books_id, replaces) REFERENCES tokens (books_id, id)
);
COMMENT ON TABLE tokens IS 'What opens the books over HTTP; the token itself is shown once and never kept.';
COMMENT ON COLUMN tokens.hash IS 'SHA-256 of the token. It is unique over all books, since it alone says which books are meant.';
COMMENT ON COLUMN tokens.last_used_at IS 'When it opened the books last, to the minute.';
COMMENT ON COLUMN tokens.replaces IS 'The token that this one was made in place of.';
CALL fence('tokens', 'SELECT, INSERT');
GRANT UPDATE (revoked_at, expires_at) ON tokens TO ledgerboard_service;
CREATE POLICY door_looks ON tokens FOR SELECT TO ledgerboard_door USING (true);
CREATE POLICY door_marks_use ON tokens FOR UPDATE TO ledgerboard_door USING (true);
GRANT SELECT, UPDATE (last_used_at) ON tokens TO ledgerboard_door;

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
