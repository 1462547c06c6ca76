-- The service's own role: it owns nothing, bypasses nothing. The door role owns the few functions that must
-- look across books: which books a token opens, and which books there are.
DO $$
BEGIN
    IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'ledgerboard_service') THEN
        CREATE ROLE ledgerboard_service LOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOBYPASSRLS;
    END IF;
    IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'ledgerboard_door') THEN
        CREATE ROLE ledgerboard_door NOLOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOBYPASSRLS;
    END IF;
EXCEPTION WHEN duplicate_object OR unique_violation THEN
    NULL; -- another database of this cluster was migrated at the same moment
END
$$;
GRANT ledgerboard_door TO CURRENT_USER;
GRANT ledgerboard_service TO CURRENT_USER;
GRANT USAGE ON SCHEMA public TO ledgerboard_service;
GRANT USAGE, CREATE ON SCHEMA public TO ledgerboard_door;
REVOKE CREATE ON SCHEMA public FROM PUBLIC;

-- NUMERIC holds more than the program's decimals, and NaN sorts above every number: both stay outside.
CREATE DOMAIN money_amount AS numeric(19, 4) CHECK (VALUE <> 'NaN');
CREATE DOMAIN quantity_amount AS numeric(21, 6) CHECK (VALUE <> 'NaN');
CREATE DOMAIN hours_amount AS numeric(11, 4) CHECK (VALUE <> 'NaN');
CREATE DOMAIN share_percent AS numeric(7, 4) CHECK (VALUE <> 'NaN' AND VALUE BETWEEN 0 AND 100);

-- The books of the running transaction; empty text (after SET LOCAL ended) is as good as none.
CREATE FUNCTION current_books() RETURNS uuid LANGUAGE sql STABLE
    AS $$ SELECT NULLIF(current_setting('app.books', true), '')::uuid $$;

CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '% is append-only: a correction is a reversal and a replacement', TG_TABLE_NAME
        USING ERRCODE = 'restrict_violation';
END
$$;

-- Fences a table by books: row security for everybody, the owner included, and only the rights named.
CREATE PROCEDURE fence(fenced regclass, rights text) LANGUAGE plpgsql AS $$
BEGIN
    EXECUTE format('ALTER TABLE %s ENABLE ROW LEVEL SECURITY', fenced);
    EXECUTE format('ALTER TABLE %s FORCE ROW LEVEL SECURITY', fenced);
    EXECUTE format('CREATE POLICY of_these_books ON %s USING (books_id = current_books()) '
                   'WITH CHECK (books_id = current_books())', fenced);
    EXECUTE format('GRANT %s ON %s TO ledgerboard_service', rights, fenced);
END
$$;

-- The same, and nobody changes or deletes a row any more.
CREATE PROCEDURE fence_append_only(fenced regclass) LANGUAGE plpgsql AS $$
BEGIN
    CALL fence(fenced, 'SELECT, INSERT');
    EXECUTE format('CREATE TRIGGER append_only BEFORE UPDATE OR DELETE ON %s '
                   'FOR EACH ROW EXECUTE FUNCTION refuse_change()', fenced);
    EXECUTE format('CREATE TRIGGER append_only_all BEFORE TRUNCATE ON %s '
                   'FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()', fenced);
END
$$;

CREATE TABLE books (
    books_id uuid PRIMARY KEY,
    name text NOT NULL CHECK (name <> ''),
    base_currency text NOT NULL CHECK (base_currency ~ '^[A-Z]{3}$'),
    accounting_method text NOT NULL CHECK (accounting_method IN ('cash', 'accrual')),
    materials_timing text NOT NULL CHECK (materials_timing IN ('when_used', 'when_paid')),
    materials_flow text NOT NULL CHECK (materials_flow IN ('fifo', 'moving_average')),
    tax_profile text NOT NULL,
    time_zone text NOT NULL,
    fiscal_year_start_month int NOT NULL CHECK (fiscal_year_start_month BETWEEN 1 AND 12),
    began_on date NOT NULL,
    mark text,
    closed_through date,
    head_number bigint NOT NULL DEFAULT 0 CHECK (head_number >= 0),
    head_hash bytea NOT NULL CHECK (octet_length(head_hash) = 32),
    -- Two random ids: 244 bits of chance from the server's own strong source.
    cursor_key bytea NOT NULL DEFAULT uuid_send(gen_random_uuid()) || uuid_send(gen_random_uuid())
        CHECK (octet_length(cursor_key) = 32),
    created_at timestamptz NOT NULL DEFAULT now()
);
COMMENT ON TABLE books IS 'One business''s set of books; every other row belongs to one.';
COMMENT ON COLUMN books.fiscal_year_start_month IS 'The year of the owner''s own reckoning begins in it, 1 for January; tax years are calendar years.';
COMMENT ON COLUMN books.mark IS 'Marks books made by the demo, so that a second run finds them.';
COMMENT ON COLUMN books.closed_through IS 'The last closed day; entries dated on or before it are refused.';
COMMENT ON COLUMN books.head_number IS 'Number of the last entry; numbers have no gaps.';
COMMENT ON COLUMN books.head_hash IS 'SHA-256 of the last entry; a cut tail shows against it.';
COMMENT ON COLUMN books.cursor_key IS 'Seals the cursors of these books'' lists; never shown.';
CALL fence('books', 'SELECT, INSERT');
GRANT UPDATE (closed_through, head_number, head_hash) ON books TO ledgerboard_service;
CREATE POLICY door_looks ON books FOR SELECT TO ledgerboard_door USING (true);
GRANT SELECT ON books TO ledgerboard_door;

CREATE FUNCTION books_on_this_server() RETURNS TABLE (books_id uuid, name text, mark text)
    LANGUAGE sql STABLE SECURITY DEFINER SET search_path = public
    AS $$ SELECT books_id, name, mark FROM books ORDER BY created_at, books_id $$;
ALTER FUNCTION books_on_this_server() OWNER TO ledgerboard_door;
REVOKE ALL ON FUNCTION books_on_this_server() FROM PUBLIC;
GRANT EXECUTE ON FUNCTION books_on_this_server() TO ledgerboard_service;
COMMENT ON FUNCTION books_on_this_server() IS 'Which books there are; asked by the command line, never by a request.';
