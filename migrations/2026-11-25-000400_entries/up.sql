-- Records and the journal. One request makes one record; the record carries its entries, sources, movements
-- and attributions.
CREATE TABLE records (
    books_id uuid NOT NULL REFERENCES books,
    id uuid NOT NULL,
    word text NOT NULL,
    kind text NOT NULL,
    date date NOT NULL,
    party_id uuid,
    text text NOT NULL,
    streams text[] NOT NULL,
    facts jsonb NOT NULL,
    notes text[] NOT NULL,
    created_at timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (books_id, id),
    FOREIGN KEY (books_id, party_id) REFERENCES parties (books_id, id)
);
COMMENT ON TABLE records IS 'What was recorded, as the person stated it.';
COMMENT ON COLUMN records.word IS 'The trade word: purchases, furniture, payouts.';
COMMENT ON COLUMN records.facts IS 'The request as it was understood; amounts are text, so nothing passes through a float.';
CREATE INDEX records_by_word ON records (books_id, word, date, id);
CREATE INDEX records_by_party ON records (books_id, party_id) WHERE party_id IS NOT NULL;
CALL fence_append_only('records');
ALTER TABLE parties ADD FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id) DEFERRABLE INITIALLY DEFERRED;

CREATE TABLE record_links (
    books_id uuid NOT NULL,
    record_id uuid NOT NULL,
    depends_on uuid NOT NULL,
    PRIMARY KEY (books_id, record_id, depends_on),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id),
    FOREIGN KEY (books_id, depends_on) REFERENCES records (books_id, id)
);
COMMENT ON TABLE record_links IS 'A record that stands on another: the other can not be reversed while this one stands.';
CREATE INDEX record_links_back ON record_links (books_id, depends_on);
CALL fence_append_only('record_links');

CREATE TABLE record_reversals (
    books_id uuid NOT NULL,
    record_id uuid NOT NULL,
    reversal_id uuid NOT NULL,
    PRIMARY KEY (books_id, record_id),
    UNIQUE (books_id, reversal_id, record_id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id),
    FOREIGN KEY (books_id, reversal_id) REFERENCES records (books_id, id)
);
COMMENT ON TABLE record_reversals IS 'A record is reversed once, by a record of its own; read either way round.';
CALL fence_append_only('record_reversals');

ALTER TABLE records
    ADD COLUMN replaces uuid,
    ADD UNIQUE (books_id, replaces),
    ADD FOREIGN KEY (books_id, replaces) REFERENCES record_reversals (books_id, record_id);
COMMENT ON COLUMN records.replaces IS 'The record that was taken back and that this one stands in for; each is replaced once.';

CREATE TABLE accounts (
    books_id uuid NOT NULL REFERENCES books,
    code text NOT NULL,
    type text NOT NULL CHECK (type IN ('asset', 'liability', 'equity', 'income', 'expense')),
    PRIMARY KEY (books_id, code)
);
COMMENT ON TABLE accounts IS 'The chart of accounts of each books.';
CALL fence_append_only('accounts');

CREATE TABLE entries (
    books_id uuid NOT NULL REFERENCES books,
    number bigint NOT NULL CHECK (number > 0),
    record_id uuid NOT NULL,
    place int NOT NULL CHECK (place >= 0),
    date date NOT NULL,
    kind text NOT NULL CHECK (kind IN ('ordinary', 'opening', 'reversal', 'depreciation', 'disposal', 'closing')),
    text text NOT NULL,
    reverses bigint,
    hash bytea NOT NULL CHECK (octet_length(hash) = 32),
    PRIMARY KEY (books_id, number),
    UNIQUE (books_id, reverses),
    UNIQUE (books_id, record_id, place),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id),
    FOREIGN KEY (books_id, reverses) REFERENCES entries (books_id, number),
    CHECK ((kind = 'reversal') = (reverses IS NOT NULL))
);
COMMENT ON TABLE entries IS 'The journal: numbered without gaps, append-only, chained by hash.';
COMMENT ON COLUMN entries.place IS 'Which of its record''s entries it is, from zero.';
COMMENT ON COLUMN entries.reverses IS 'The entry this one takes back.';
COMMENT ON COLUMN entries.hash IS 'SHA-256 over the canonical form of the entry and the hash before it.';
CREATE INDEX entries_by_date ON entries (books_id, date, number);
CALL fence_append_only('entries');

CREATE TABLE postings (
    books_id uuid NOT NULL,
    entry_number bigint NOT NULL,
    line int NOT NULL CHECK (line >= 0),
    account text NOT NULL,
    amount money_amount NOT NULL CHECK (amount <> 0),
    tax_class text,
    tax_year int NOT NULL CHECK (tax_year BETWEEN 1900 AND 2200),
    PRIMARY KEY (books_id, entry_number, line),
    FOREIGN KEY (books_id, entry_number) REFERENCES entries (books_id, number),
    FOREIGN KEY (books_id, account) REFERENCES accounts (books_id, code)
);
COMMENT ON TABLE postings IS 'The lines of entries; they carry no episode.';
COMMENT ON COLUMN postings.amount IS 'Base currency; debits positive, credits negative.';
CREATE INDEX postings_by_year ON postings (books_id, tax_year, tax_class);
CREATE INDEX postings_by_account ON postings (books_id, account);
CALL fence_append_only('postings');

-- An entry takes the next number, on the hash before it, on an open day. The books' row is locked by the writer.
CREATE FUNCTION entry_follows() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    head books%ROWTYPE;
BEGIN
    SELECT * INTO head FROM books WHERE books_id = NEW.books_id;
    IF NEW.number <> head.head_number + 1 THEN
        RAISE EXCEPTION 'entry % does not follow entry %', NEW.number, head.head_number
            USING ERRCODE = 'check_violation', CONSTRAINT = 'entries_without_gaps';
    END IF;
    IF NEW.date <= head.closed_through THEN
        RAISE EXCEPTION '% is closed through %', NEW.date, head.closed_through
            USING ERRCODE = 'check_violation', CONSTRAINT = 'entries_on_open_days';
    END IF;
    RETURN NEW;
END
$$;
CREATE TRIGGER entry_follows BEFORE INSERT ON entries FOR EACH ROW EXECUTE FUNCTION entry_follows();

-- Checked when the transaction commits: an entry's postings sum to zero and there are at least two of them.
CREATE FUNCTION entry_balances() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    entry bigint;
    sum_of numeric;
    lines bigint;
BEGIN
    entry := CASE TG_TABLE_NAME WHEN 'entries' THEN (to_jsonb(NEW) ->> 'number')::bigint
                                ELSE (to_jsonb(NEW) ->> 'entry_number')::bigint END;
    SELECT coalesce(sum(amount), 0), count(*) INTO sum_of, lines FROM postings
        WHERE books_id = NEW.books_id AND entry_number = entry;
    IF sum_of <> 0 OR lines < 2 THEN
        RAISE EXCEPTION 'entry % is out of balance by % over % postings', entry, sum_of, lines
            USING ERRCODE = 'check_violation', CONSTRAINT = 'entries_balance';
    END IF;
    RETURN NULL;
END
$$;
CREATE CONSTRAINT TRIGGER entry_balances AFTER INSERT ON entries DEFERRABLE INITIALLY DEFERRED
    FOR EACH ROW EXECUTE FUNCTION entry_balances();
CREATE CONSTRAINT TRIGGER posting_balances AFTER INSERT ON postings DEFERRABLE INITIALLY DEFERRED
    FOR EACH ROW EXECUTE FUNCTION entry_balances();

CREATE TABLE audit_lines (
    books_id uuid NOT NULL REFERENCES books,
    id uuid NOT NULL,
    token_id uuid,
    request_id uuid NOT NULL,
    action text NOT NULL,
    record_id uuid,
    about_token uuid,
    about_books uuid REFERENCES books,
    at timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (books_id, id),
    FOREIGN KEY (books_id, token_id) REFERENCES tokens (books_id, id),
    FOREIGN KEY (books_id, about_token) REFERENCES tokens (books_id, id),
    CHECK (num_nonnulls(record_id, about_token, about_books) = 1)
);
COMMENT ON TABLE audit_lines IS 'Who changed what by which request; written in the change''s own transaction.';
COMMENT ON COLUMN audit_lines.token_id IS 'Whose token it was; NULL where it was no token of these books: the command line, or books beside which these were opened.';
COMMENT ON COLUMN audit_lines.about_token IS 'The token that was made, replaced or revoked.';
COMMENT ON COLUMN audit_lines.about_books IS 'The books that were opened beside these.';
CREATE INDEX audit_lines_in_time ON audit_lines (books_id, at, id);
CALL fence_append_only('audit_lines');

CREATE TABLE idempotency_answers (
    books_id uuid NOT NULL REFERENCES books,
    key text NOT NULL CHECK (length(key) BETWEEN 1 AND 255),
    payload_hash bytea NOT NULL CHECK (octet_length(payload_hash) = 32),
    status int NOT NULL,
    body bytea NOT NULL,
    at timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (books_id, key)
);
COMMENT ON TABLE idempotency_answers IS 'The first answer to each key, written in the transaction of what it answers; kept for a week.';
COMMENT ON COLUMN idempotency_answers.payload_hash IS 'SHA-256 of method, path and body: another payload under the same key is refused.';
CALL fence('idempotency_answers', 'SELECT, INSERT');
CREATE POLICY door_looks ON idempotency_answers FOR SELECT TO ledgerboard_door USING (true);
CREATE POLICY door_forgets ON idempotency_answers FOR DELETE TO ledgerboard_door USING (true);
GRANT SELECT, DELETE ON idempotency_answers TO ledgerboard_door;

CREATE FUNCTION forget_old_answers() RETURNS bigint
    LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = public
    AS $$
        WITH old AS (
            SELECT books_id, key FROM idempotency_answers WHERE at < now() - interval '7 days'
            LIMIT 5000
        ), gone AS (
            DELETE FROM idempotency_answers a USING old
            WHERE a.books_id = old.books_id AND a.key = old.key RETURNING 1
        )
        SELECT count(*) FROM gone
    $$;
ALTER FUNCTION forget_old_answers() OWNER TO ledgerboard_door;
REVOKE ALL ON FUNCTION forget_old_answers() FROM PUBLIC;
GRANT EXECUTE ON FUNCTION forget_old_answers() TO ledgerboard_service;
COMMENT ON FUNCTION forget_old_answers() IS 'Answers older than a week, at most five thousand a call; says how many.';
