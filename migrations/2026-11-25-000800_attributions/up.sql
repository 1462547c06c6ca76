CREATE TABLE sources (
    books_id uuid NOT NULL,
    id uuid NOT NULL,
    record_id uuid NOT NULL,
    side text NOT NULL CHECK (side IN ('cost', 'income', 'in_kind', 'fee', 'recovery')),
    kind text NOT NULL,
    text text NOT NULL,
    PRIMARY KEY (books_id, id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id)
);
COMMENT ON TABLE sources IS 'Where costs, incomes, fees and recoveries come from: a receipt''s line, a lot, a tool, a payout.';
CREATE INDEX sources_of_record ON sources (books_id, record_id);
CALL fence_append_only('sources');

CREATE TABLE movements (
    books_id uuid NOT NULL,
    id uuid NOT NULL,
    record_id uuid NOT NULL,
    source_id uuid NOT NULL,
    date date NOT NULL,
    kind text NOT NULL CHECK (kind IN ('opening', 'incurred', 'returned', 'removed')),
    amount money_amount NOT NULL CHECK (amount <> 0),
    entry_number bigint,
    PRIMARY KEY (books_id, id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id),
    FOREIGN KEY (books_id, source_id) REFERENCES sources (books_id, id),
    FOREIGN KEY (books_id, entry_number) REFERENCES entries (books_id, number)
);
COMMENT ON TABLE movements IS 'What happened to a source: it came, was incurred, went back or left. The roll-forward reads it.';
CREATE INDEX movements_of_source ON movements (books_id, source_id);
CREATE INDEX movements_of_entry ON movements (books_id, entry_number);
CALL fence_append_only('movements');

CREATE TABLE attributions (
    books_id uuid NOT NULL,
    id uuid NOT NULL,
    record_id uuid NOT NULL,
    source_id uuid NOT NULL,
    date date NOT NULL,
    episode_id uuid,
    project_id uuid,
    label text NOT NULL,
    amount money_amount NOT NULL CHECK (amount <> 0),
    PRIMARY KEY (books_id, id),
    CHECK (num_nonnulls(episode_id, project_id) = 1),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id),
    FOREIGN KEY (books_id, source_id) REFERENCES sources (books_id, id),
    FOREIGN KEY (books_id, episode_id) REFERENCES episodes (books_id, id),
    FOREIGN KEY (books_id, project_id) REFERENCES projects (books_id, id)
);
COMMENT ON TABLE attributions IS 'The only place where an episode''s amounts come from: a dated share of one source; a correction is negative.';
COMMENT ON COLUMN attributions.label IS 'The line of the statement: a category of cost, a stream of income, a kind of recovery.';
CREATE INDEX attributions_by_episode ON attributions (books_id, episode_id, label) WHERE episode_id IS NOT NULL;
CREATE INDEX attributions_by_project ON attributions (books_id, project_id, label) WHERE project_id IS NOT NULL;
CREATE INDEX attributions_of_source ON attributions (books_id, source_id);
CALL fence_append_only('attributions');

-- Checked at commit: no source gives more than it has (invariants 6 and 7).
CREATE FUNCTION source_holds() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    held numeric;
    given numeric;
BEGIN
    SELECT coalesce(sum(amount), 0) INTO held FROM movements
        WHERE books_id = NEW.books_id AND source_id = NEW.source_id;
    SELECT coalesce(sum(amount), 0) INTO given FROM attributions
        WHERE books_id = NEW.books_id AND source_id = NEW.source_id;
    IF given > held OR held < 0 THEN
        RAISE EXCEPTION 'source % has % and attributes %', NEW.source_id, held, given
            USING ERRCODE = 'check_violation', CONSTRAINT = 'sources_hold_what_they_give';
    END IF;
    RETURN NULL;
END
$$;
CREATE CONSTRAINT TRIGGER source_holds AFTER INSERT ON attributions DEFERRABLE INITIALLY DEFERRED
    FOR EACH ROW EXECUTE FUNCTION source_holds();
CREATE CONSTRAINT TRIGGER source_holds AFTER INSERT ON movements DEFERRABLE INITIALLY DEFERRED
    FOR EACH ROW EXECUTE FUNCTION source_holds();
