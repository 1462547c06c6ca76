-- Labels change: names, notes, planned dates, contact data. Nothing else of a row does, and each change has its line
-- in the history. A change of labels posts nothing.
CREATE TABLE revisions (
    books_id uuid NOT NULL REFERENCES books,
    thing_id uuid NOT NULL,
    version int NOT NULL CHECK (version > 1),
    thing text NOT NULL
        CHECK (thing IN ('parties', 'projects', 'episodes', 'accounts', 'tools', 'furniture', 'deals')),
    audit_id uuid NOT NULL,
    changed jsonb NOT NULL CHECK (jsonb_typeof(changed) = 'object' AND changed <> '{}'),
    before jsonb NOT NULL CHECK (jsonb_typeof(before) = 'object'),
    labels jsonb NOT NULL CHECK (jsonb_typeof(labels) = 'object'),
    at timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (books_id, thing_id, version),
    FOREIGN KEY (books_id, audit_id) REFERENCES audit_lines (books_id, id)
);
COMMENT ON TABLE revisions IS 'What the labels of things were changed to, each time.';
COMMENT ON COLUMN revisions.thing IS 'The trade word of the thing.';
COMMENT ON COLUMN revisions.changed IS 'The fields that became different; null where one was taken away.';
COMMENT ON COLUMN revisions.before IS 'The same fields as they were.';
COMMENT ON COLUMN revisions.labels IS 'All labels of the thing from this version on; null where there is nothing.';
CALL fence_append_only('revisions');

-- The history has no gap: version 1 is the record that made the thing.
CREATE FUNCTION revision_follows() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    last int;
BEGIN
    SELECT coalesce(max(version), 1) INTO last FROM revisions
        WHERE books_id = NEW.books_id AND thing_id = NEW.thing_id;
    IF NEW.version <> last + 1 THEN
        RAISE EXCEPTION 'revision % of % does not follow %', NEW.version, NEW.thing_id, last
            USING ERRCODE = 'check_violation', CONSTRAINT = 'revisions_without_gaps';
    END IF;
    RETURN NEW;
END
$$;
CREATE TRIGGER revision_follows BEFORE INSERT ON revisions FOR EACH ROW EXECUTE FUNCTION revision_follows();

-- A row changes in its labels only, which the trigger's arguments name, and one version at a time.
CREATE FUNCTION labels_only() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF TG_OP = 'INSERT' THEN
        IF NEW.version <> 1 THEN
            RAISE EXCEPTION '% begins at version 1, not %', TG_TABLE_NAME, NEW.version
                USING ERRCODE = 'check_violation', CONSTRAINT = 'versions_without_gaps';
        END IF;
        RETURN NEW;
    END IF;
    IF TG_OP = 'DELETE' OR to_jsonb(NEW) - TG_ARGV - 'version' <> to_jsonb(OLD) - TG_ARGV - 'version' THEN
        RAISE EXCEPTION '% is append-only but for its labels: a correction is a reversal and a replacement', TG_TABLE_NAME
            USING ERRCODE = 'restrict_violation';
    END IF;
    IF NEW.version <> OLD.version + 1 THEN
        RAISE EXCEPTION '% goes from version % to %', TG_TABLE_NAME, OLD.version, NEW.version
            USING ERRCODE = 'check_violation', CONSTRAINT = 'versions_without_gaps';
    END IF;
    RETURN NEW;
END
$$;

-- Checked when the transaction commits: what a row was changed to is in the history.
CREATE FUNCTION revision_kept() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NOT EXISTS (SELECT FROM revisions
                   WHERE books_id = NEW.books_id AND thing_id = NEW.id AND version = NEW.version) THEN
        RAISE EXCEPTION 'version % of % in % is in no history', NEW.version, NEW.id, TG_TABLE_NAME
            USING ERRCODE = 'check_violation', CONSTRAINT = 'revisions_kept';
    END IF;
    RETURN NULL;
END
$$;

-- Opens the labels of an append-only table to change, and nothing else of it.
CREATE PROCEDURE open_labels(opened regclass, VARIADIC labels text[]) LANGUAGE plpgsql AS $$
BEGIN
    EXECUTE format('ALTER TABLE %s ADD COLUMN version int NOT NULL DEFAULT 1 CHECK (version >= 1)', opened);
    EXECUTE format('COMMENT ON COLUMN %s.version IS %L', opened, 'How often its labels were set; revisions has each.');
    EXECUTE format('DROP TRIGGER append_only ON %s', opened);
    EXECUTE format('CREATE TRIGGER labels_only BEFORE INSERT OR UPDATE OR DELETE ON %s '
                   'FOR EACH ROW EXECUTE FUNCTION labels_only(%s)', opened,
                   (SELECT string_agg(quote_literal(label), ', ') FROM unnest(labels) label));
    EXECUTE format('CREATE CONSTRAINT TRIGGER revision_kept AFTER UPDATE ON %s DEFERRABLE INITIALLY DEFERRED '
                   'FOR EACH ROW EXECUTE FUNCTION revision_kept()', opened);
    EXECUTE format('GRANT UPDATE (version, %s) ON %s TO ledgerboard_service',
                   (SELECT string_agg(quote_ident(label), ', ') FROM unnest(labels) label), opened);
END
$$;
CALL open_labels('parties', 'name');
CALL open_labels('projects', 'name');
CALL open_labels('episodes', 'title', 'planned_on');
CALL open_labels('money_accounts', 'name');
CALL open_labels('tools', 'name');
CALL open_labels('pieces', 'name');
CALL open_labels('deals', 'title');
