-- A new token names its books in its own text, so every query about it can name books_id. Tokens made before carry only
-- their secret: this directory says which books each of those opens. It is the only key that books_id does not lead.
CREATE TABLE token_directory (
    hash bytea PRIMARY KEY CHECK (octet_length(hash) = 32),
    books_id uuid NOT NULL
);
COMMENT ON TABLE token_directory IS 'Which books a token opens whose text does not name them: tokens made before 2026-12-01.';
COMMENT ON COLUMN token_directory.hash IS 'SHA-256 of the token, as in tokens.';
-- The owner of the schema is held by row security too, so it steps outside for the copy.
ALTER TABLE tokens NO FORCE ROW LEVEL SECURITY;
INSERT INTO token_directory (hash, books_id) SELECT hash, books_id FROM tokens;
ALTER TABLE tokens FORCE ROW LEVEL SECURITY;
CALL fence('token_directory', 'SELECT');
CREATE POLICY door_looks ON token_directory FOR SELECT TO ledgerboard_door USING (true);
GRANT SELECT ON token_directory TO ledgerboard_door;
ALTER TABLE tokens DROP CONSTRAINT tokens_hash_key, ADD UNIQUE (books_id, hash);
COMMENT ON COLUMN tokens.hash IS 'SHA-256 of the token.';

-- The only foreign key that led from one set of books to another.
ALTER TABLE audit_lines DROP CONSTRAINT audit_lines_about_books_fkey;

-- Looking a token up is a read, so that it works on a standby too; noting its use is a call of its own, once a minute.
DROP FUNCTION books_of_token(bytea);
CREATE FUNCTION books_of_token(asked bytea, named uuid)
    RETURNS TABLE (books_id uuid, token_id uuid, scope text, cursor_key bytea, use_is_noted boolean)
    LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = public AS $$
#variable_conflict use_column
DECLARE
    opened uuid := coalesce(named, (SELECT d.books_id FROM token_directory d WHERE d.hash = asked));
BEGIN
    RETURN QUERY
        SELECT t.books_id, t.id, t.scope, b.cursor_key,
               t.last_used_at IS NOT NULL AND t.last_used_at >= now() - interval '1 minute'
        FROM tokens t JOIN books b ON b.books_id = t.books_id
        WHERE t.books_id = opened AND t.hash = asked AND t.revoked_at IS NULL
          AND (t.expires_at IS NULL OR t.expires_at > now());
END
$$;
ALTER FUNCTION books_of_token(bytea, uuid) OWNER TO ledgerboard_door;
REVOKE ALL ON FUNCTION books_of_token(bytea, uuid) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION books_of_token(bytea, uuid) TO ledgerboard_service;
COMMENT ON FUNCTION books_of_token(bytea, uuid) IS 'Which books a live token opens: the ones its text names, or those in the directory.';

CREATE FUNCTION note_token_use(opened uuid, used uuid) RETURNS void
    LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = public AS $$
BEGIN
    -- To the minute, and never waiting for another request with the same token.
    PERFORM FROM tokens WHERE books_id = opened AND id = used
        AND (last_used_at IS NULL OR last_used_at < now() - interval '1 minute') FOR UPDATE SKIP LOCKED;
    IF FOUND THEN
        UPDATE tokens SET last_used_at = now() WHERE books_id = opened AND id = used;
    END IF;
END
$$;
ALTER FUNCTION note_token_use(uuid, uuid) OWNER TO ledgerboard_door;
REVOKE ALL ON FUNCTION note_token_use(uuid, uuid) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION note_token_use(uuid, uuid) TO ledgerboard_service;
COMMENT ON FUNCTION note_token_use(uuid, uuid) IS 'Notes when a token was last used, to the minute.';
