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

CREATE TABLE overhead_pools (
    books_id uuid NOT NULL,
    record_id uuid NOT NULL,
    name text NOT NULL CHECK (name <> ''),
    from_date date NOT NULL,
    to_date date NOT NULL CHECK (to_date >= from_date),
    classes text[] NOT NULL,
    estimated_cost money_amount CHECK (estimated_cost > 0),
    estimated_hours hours_amount CHECK (estimated_hours > 0),
    PRIMARY KEY (books_id, record_id),
    CHECK (num_nonnulls(estimated_cost, estimated_hours) <> 1),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id)
);
COMMENT ON TABLE overhead_pools IS 'Costs of some days that are spread together; its id is its record''s.';
COMMENT ON COLUMN overhead_pools.classes IS 'Classes of expense that belong to it; with neither classes nor records it is the rest of overhead.';
COMMENT ON COLUMN overhead_pools.estimated_cost IS 'What it was expected to come to: the rate for an hour is this over estimated_hours, unrounded.';
CALL fence_append_only('overhead_pools');

CREATE TABLE overhead_pool_records (
    books_id uuid NOT NULL,
    pool_id uuid NOT NULL,
    record_id uuid NOT NULL,
    PRIMARY KEY (books_id, pool_id, record_id),
    FOREIGN KEY (books_id, pool_id) REFERENCES overhead_pools (books_id, record_id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id)
);
COMMENT ON TABLE overhead_pool_records IS 'Records whose costs belong to a pool, whatever their class.';
CALL fence_append_only('overhead_pool_records');

CREATE TABLE overhead_spreads (
    books_id uuid NOT NULL,
    record_id uuid NOT NULL,
    pool_id uuid,
    date date NOT NULL,
    from_date date NOT NULL,
    to_date date NOT NULL CHECK (to_date >= from_date),
    basis text NOT NULL CHECK (basis IN ('own_hours', 'equally', 'income', 'costs')),
    rate text NOT NULL CHECK (rate IN ('estimated', 'actual')),
    base quantity_amount NOT NULL CHECK (base > 0),
    applied money_amount NOT NULL CHECK (applied >= 0),
    there money_amount NOT NULL CHECK (there > 0),
    spread money_amount NOT NULL CHECK (spread BETWEEN 0 AND there),
    PRIMARY KEY (books_id, record_id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id),
    FOREIGN KEY (books_id, pool_id) REFERENCES overhead_pools (books_id, record_id)
);
COMMENT ON TABLE overhead_spreads IS 'Each spreading of overhead: what it went by, what the base bore, what there was.';
COMMENT ON COLUMN overhead_spreads.base IS 'All hours, income or costs of the episodes that bear; their number where it was spread equally.';
COMMENT ON COLUMN overhead_spreads.applied IS 'What the base bears at the rate; more than there was means over-applied.';
CALL fence_append_only('overhead_spreads');
