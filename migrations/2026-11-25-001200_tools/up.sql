CREATE TABLE tools (
    books_id uuid NOT NULL,
    id uuid NOT NULL,
    record_id uuid NOT NULL,
    source_id uuid NOT NULL,
    name text NOT NULL CHECK (name <> ''),
    origin text NOT NULL CHECK (origin IN ('bought', 'for_promotion', 'personal_gift', 'loan', 'converted_from_personal')),
    acquired_on date NOT NULL,
    in_service_on date NOT NULL,
    cost money_amount NOT NULL CHECK (cost >= 0),
    basis_for_gain money_amount NOT NULL CHECK (basis_for_gain >= cost),
    invoice_price money_amount NOT NULL CHECK (invoice_price >= cost),
    salvage money_amount NOT NULL CHECK (salvage BETWEEN 0 AND cost),
    method text NOT NULL CHECK (method IN ('per_use_hour', 'straight_line', 'equal_share', 'percentages', 'expense_now')),
    hours_expected hours_amount CHECK (hours_expected > 0),
    months int CHECK (months > 0),
    recovery_class text NOT NULL CHECK (recovery_class IN ('3', '5', '7')),
    property_type text NOT NULL CHECK (property_type IN ('ordinary', 'listed')),
    vehicle_pounds int CHECK (vehicle_pounds > 0),
    vehicle_body text CHECK (vehicle_body IN ('passenger', 'long_cargo_bed', 'cargo_van', 'over_nine_seats')),
    tax_choice text NOT NULL CHECK (tax_choice IN ('by_law', 'section_179', 'straight_line', 'capitalise')),
    section_179 money_amount NOT NULL CHECK (section_179 BETWEEN 0 AND cost),
    business_share share_percent NOT NULL,
    prior_taken money_amount,
    prior_convention text CHECK (prior_convention IN ('half_year', 'mid_quarter')),
    prior_first_year money_amount,
    hours_before hours_amount NOT NULL CHECK (hours_before >= 0),
    PRIMARY KEY (books_id, id),
    CHECK (basis_for_gain = cost OR origin = 'converted_from_personal'),
    CHECK ((method = 'per_use_hour') = (hours_expected IS NOT NULL)),
    CHECK ((method = 'straight_line') = (months IS NOT NULL)),
    CHECK (num_nulls(vehicle_pounds, vehicle_body) IN (0, 2)),
    CHECK (num_nulls(prior_taken, prior_convention, prior_first_year) IN (0, 3)),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id),
    FOREIGN KEY (books_id, source_id) REFERENCES sources (books_id, id)
);
COMMENT ON TABLE tools IS 'Durable things used on many episodes.';
COMMENT ON COLUMN tools.acquired_on IS 'The binding contract''s date where there was one; with in_service_on it selects the special allowance.';
COMMENT ON COLUMN tools.basis_for_gain IS 'What a gain is counted from before depreciation: the cost, or what a thing that was private before had cost the owner.';
COMMENT ON COLUMN tools.invoice_price IS 'What the invoice proves for it: the cost, or the price of the whole line where one price bought several tools.';
COMMENT ON COLUMN tools.vehicle_pounds IS 'Gross vehicle weight; with the body it decides the cap of section 179.';
COMMENT ON COLUMN tools.business_share IS 'Percent, until a year''s own is stated; touches tax only, the cost statement charges what was used.';
COMMENT ON COLUMN tools.prior_taken IS 'Depreciation taken before the books began.';
CALL fence_append_only('tools');

CREATE TABLE tool_uses (
    books_id uuid NOT NULL,
    id uuid NOT NULL,
    tool_id uuid NOT NULL,
    record_id uuid NOT NULL,
    date date NOT NULL,
    episode_id uuid,
    project_id uuid,
    hours hours_amount CHECK (hours > 0),
    share share_percent,
    PRIMARY KEY (books_id, id),
    CHECK (num_nonnulls(episode_id, project_id) = 1),
    FOREIGN KEY (books_id, tool_id) REFERENCES tools (books_id, id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id),
    FOREIGN KEY (books_id, episode_id) REFERENCES episodes (books_id, id),
    FOREIGN KEY (books_id, project_id) REFERENCES projects (books_id, id)
);
COMMENT ON TABLE tool_uses IS 'When a tool worked for which episode.';
CREATE INDEX tool_uses_of_tool ON tool_uses (books_id, tool_id);
CALL fence_append_only('tool_uses');

CREATE TABLE tool_disposals (
    books_id uuid NOT NULL,
    tool_id uuid NOT NULL,
    record_id uuid NOT NULL,
    date date NOT NULL,
    kind text NOT NULL CHECK (kind IN ('sold', 'scrapped', 'stolen', 'personal_use')),
    proceeds money_amount NOT NULL CHECK (proceeds >= 0),
    PRIMARY KEY (books_id, tool_id, record_id),
    FOREIGN KEY (books_id, tool_id) REFERENCES tools (books_id, id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id)
);
COMMENT ON TABLE tool_disposals IS 'How a tool left.';
CALL fence_append_only('tool_disposals');

CREATE TABLE tool_estimates (
    books_id uuid NOT NULL,
    tool_id uuid NOT NULL,
    record_id uuid NOT NULL,
    date date NOT NULL,
    method text NOT NULL CHECK (method IN ('per_use_hour', 'straight_line', 'equal_share', 'percentages', 'expense_now')),
    hours_expected hours_amount CHECK (hours_expected > 0),
    months int CHECK (months > 0),
    hours_run hours_amount NOT NULL CHECK (hours_run >= 0),
    salvage money_amount NOT NULL CHECK (salvage >= 0),
    left_to_attribute money_amount NOT NULL CHECK (left_to_attribute >= 0),
    PRIMARY KEY (books_id, tool_id, record_id),
    CHECK ((method = 'per_use_hour') = (hours_expected IS NOT NULL)),
    CHECK ((method = 'straight_line') = (months IS NOT NULL)),
    FOREIGN KEY (books_id, tool_id) REFERENCES tools (books_id, id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id)
);
COMMENT ON TABLE tool_estimates IS 'How a tool''s life is seen from a day on; uses before it stay as they are.';
CALL fence_append_only('tool_estimates');

CREATE TABLE tool_business_shares (
    books_id uuid NOT NULL,
    tool_id uuid NOT NULL,
    record_id uuid NOT NULL,
    tax_year int NOT NULL CHECK (tax_year BETWEEN 1900 AND 2200),
    share share_percent NOT NULL,
    PRIMARY KEY (books_id, tool_id, record_id),
    FOREIGN KEY (books_id, tool_id) REFERENCES tools (books_id, id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id)
);
COMMENT ON TABLE tool_business_shares IS 'How much of a tool''s use was business in a tax year, and in those after it until another is stated.';
CALL fence_append_only('tool_business_shares');

-- A year's share is stated once: another is allowed only when every earlier one was reversed; never of a year before
-- the tool came into service.
CREATE FUNCTION share_stated_once() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF EXISTS (
        SELECT FROM tool_business_shares stated
        WHERE stated.books_id = NEW.books_id AND stated.tool_id = NEW.tool_id AND stated.tax_year = NEW.tax_year
          AND stated.record_id <> NEW.record_id
          AND NOT EXISTS (SELECT FROM record_reversals r
                          WHERE r.books_id = stated.books_id AND r.record_id = stated.record_id)
    ) THEN
        RAISE EXCEPTION 'the share of tool % is stated for % already', NEW.tool_id, NEW.tax_year
            USING ERRCODE = 'check_violation', CONSTRAINT = 'shares_stated_once';
    END IF;
    IF NEW.tax_year < (SELECT EXTRACT(YEAR FROM in_service_on) FROM tools
                       WHERE books_id = NEW.books_id AND id = NEW.tool_id) THEN
        RAISE EXCEPTION 'the share of tool % is stated before it came into service', NEW.tool_id
            USING ERRCODE = 'check_violation', CONSTRAINT = 'shares_stated_in_service';
    END IF;
    RETURN NEW;
END
$$;
CREATE TRIGGER share_stated_once BEFORE INSERT ON tool_business_shares FOR EACH ROW EXECUTE FUNCTION share_stated_once();

CREATE TABLE tool_improvements (
    books_id uuid NOT NULL,
    tool_id uuid NOT NULL,
    record_id uuid NOT NULL,
    improves uuid NOT NULL,
    PRIMARY KEY (books_id, tool_id),
    CHECK (improves <> tool_id),
    FOREIGN KEY (books_id, tool_id) REFERENCES tools (books_id, id),
    FOREIGN KEY (books_id, improves) REFERENCES tools (books_id, id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id)
);
COMMENT ON TABLE tool_improvements IS 'Tools that are an improvement of another, written off by themselves from their own day.';
CREATE INDEX tool_improvements_of_tool ON tool_improvements (books_id, improves);
CALL fence_append_only('tool_improvements');

CREATE TABLE tool_repairs (
    books_id uuid NOT NULL,
    tool_id uuid NOT NULL,
    record_id uuid NOT NULL,
    source_id uuid NOT NULL,
    PRIMARY KEY (books_id, source_id),
    FOREIGN KEY (books_id, tool_id) REFERENCES tools (books_id, id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id),
    FOREIGN KEY (books_id, source_id) REFERENCES sources (books_id, id)
);
COMMENT ON TABLE tool_repairs IS 'Lines of receipts that repaired a tool: costs of their days, not of the tool.';
CREATE INDEX tool_repairs_of_tool ON tool_repairs (books_id, tool_id);
CALL fence_append_only('tool_repairs');
