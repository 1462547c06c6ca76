CREATE TABLE tokens (
    books_id uuid NOT NULL REFERENCES books,
    id uuid NOT NULL,
    name text NOT NULL CHECK (name <> ''),
    scope text NOT NULL CHECK (scope IN ('read', 'record', 'close', 'admin')),
    hash bytea NOT NULL UNIQUE CHECK (octet_length(hash) = 32),
    created_at timestamptz NOT NULL DEFAULT now(),
    expires_at timestamptz,
    revoked_at timestamptz,
    PRIMARY KEY (books_id, id)
);
COMMENT ON TABLE tokens IS 'What opens the books over HTTP; the token itself is shown once and never kept.';
COMMENT ON COLUMN tokens.hash IS 'SHA-256 of the token. It is unique over all books, since it alone says which books are meant.';
CALL fence('tokens', 'SELECT, INSERT');
GRANT UPDATE (revoked_at) ON tokens TO ledgerboard_service;
CREATE POLICY door_looks ON tokens FOR SELECT TO ledgerboard_door USING (true);
GRANT SELECT ON tokens TO ledgerboard_door;

CREATE FUNCTION books_of_token(asked bytea) RETURNS TABLE (books_id uuid, token_id uuid, scope text)
    LANGUAGE sql STABLE SECURITY DEFINER SET search_path = public
    AS $$
        SELECT books_id, id, scope FROM tokens
        WHERE hash = asked AND revoked_at IS NULL AND (expires_at IS NULL OR expires_at > now())
    $$;
ALTER FUNCTION books_of_token(bytea) OWNER TO ledgerboard_door;
REVOKE ALL ON FUNCTION books_of_token(bytea) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION books_of_token(bytea) TO ledgerboard_service;
COMMENT ON FUNCTION books_of_token(bytea) IS 'Which books a live token opens; the only look across books that a request takes.';
