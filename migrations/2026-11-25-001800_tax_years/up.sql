CREATE TABLE tax_year_elections (
    books_id uuid NOT NULL,
    record_id uuid NOT NULL,
    tax_year int NOT NULL CHECK (tax_year BETWEEN 1900 AND 2200),
    kind text NOT NULL CHECK (kind IN ('de_minimis', 'de_minimis_with_statement', 'no_special_allowance', 'straight_line', 'lower_allowance_2025', 'inventory_as_materials')),
    recovery_class text CHECK (recovery_class IN ('3', '5', '7')),
    PRIMARY KEY (books_id, record_id),
    CHECK ((kind IN ('no_special_allowance', 'straight_line')) = (recovery_class IS NOT NULL)),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id)
);
COMMENT ON TABLE tax_year_elections IS 'Choices a taxpayer records for a year; what is not chosen follows the law''s default.';
CALL fence_append_only('tax_year_elections');

CREATE TABLE period_acts (
    books_id uuid NOT NULL,
    record_id uuid NOT NULL,
    kind text NOT NULL CHECK (kind IN ('closed', 'reopened')),
    closed_through date NOT NULL,
    reason text NOT NULL,
    after_number bigint NOT NULL CHECK (after_number >= 0),
    PRIMARY KEY (books_id, record_id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id)
);
COMMENT ON TABLE period_acts IS 'Closing and reopening are explicit, recorded acts.';
COMMENT ON COLUMN period_acts.after_number IS 'The books'' last entry when the days were closed or opened, a closing''s own entries included: later entries must lie after the closed days.';
CALL fence_append_only('period_acts');

CREATE TABLE tool_charges (
    books_id uuid NOT NULL,
    id uuid NOT NULL,
    record_id uuid NOT NULL,
    tool_id uuid,
    tax_year int NOT NULL CHECK (tax_year BETWEEN 1900 AND 2200),
    kind text NOT NULL CHECK (kind IN ('charged', 'settled_by_sale', 'settled_by_draw')),
    small_tool money_amount NOT NULL,
    section_179 money_amount NOT NULL,
    depreciation money_amount NOT NULL,
    recaptured money_amount NOT NULL,
    PRIMARY KEY (books_id, id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id),
    FOREIGN KEY (books_id, tool_id) REFERENCES tools (books_id, id)
);
COMMENT ON TABLE tool_charges IS 'What closing a tax year posted of each tool; negative where it was taken back.';
COMMENT ON COLUMN tool_charges.tool_id IS 'None for a carry-over of section 179 that no tool of these books stands behind.';
COMMENT ON COLUMN tool_charges.kind IS 'Charged as an expense, or settled against what came of a tool that was gone by then.';
COMMENT ON COLUMN tool_charges.recaptured IS 'What of earlier years came back into income, for the tool is used less for the business.';
CREATE INDEX tool_charges_of_tool ON tool_charges (books_id, tool_id);
CALL fence_append_only('tool_charges');

CREATE TABLE carry_overs (
    books_id uuid NOT NULL,
    record_id uuid NOT NULL,
    tax_year int NOT NULL CHECK (tax_year BETWEEN 1900 AND 2200),
    amount money_amount NOT NULL CHECK (amount > 0),
    PRIMARY KEY (books_id, record_id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id)
);
COMMENT ON TABLE carry_overs IS 'Section 179 of returns from before the books that their income did not allow.';
COMMENT ON COLUMN carry_overs.tax_year IS 'The first year it is brought forward to.';
CALL fence_append_only('carry_overs');

CREATE TABLE home_offices (
    books_id uuid NOT NULL,
    record_id uuid NOT NULL,
    tax_year int NOT NULL CHECK (tax_year BETWEEN 1900 AND 2200),
    PRIMARY KEY (books_id, record_id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id)
);
COMMENT ON TABLE home_offices IS 'A home office by the simplified method, for one tax year.';
CALL fence_append_only('home_offices');

CREATE TABLE home_office_areas (
    books_id uuid NOT NULL,
    record_id uuid NOT NULL,
    place int NOT NULL CHECK (place >= 0),
    from_date date NOT NULL,
    until_date date,
    square_feet quantity_amount NOT NULL CHECK (square_feet > 0),
    PRIMARY KEY (books_id, record_id, place),
    CHECK (until_date >= from_date),
    FOREIGN KEY (books_id, record_id) REFERENCES home_offices (books_id, record_id)
);
COMMENT ON TABLE home_office_areas IS 'Areas of the home with the days of their use; what is in use on the same day is added up.';
COMMENT ON COLUMN home_office_areas.until_date IS 'The last day; none where it went on.';
CALL fence_append_only('home_office_areas');

-- A year's home office is stated once: another is allowed only when every earlier one was reversed.
CREATE FUNCTION home_office_stated_once() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF EXISTS (
        SELECT FROM home_offices stated
        WHERE stated.books_id = NEW.books_id AND stated.tax_year = NEW.tax_year
          AND NOT EXISTS (SELECT FROM record_reversals r
                          WHERE r.books_id = stated.books_id AND r.record_id = stated.record_id)
    ) THEN
        RAISE EXCEPTION 'the home office of % is stated already', NEW.tax_year
            USING ERRCODE = 'check_violation', CONSTRAINT = 'home_offices_stated_once';
    END IF;
    RETURN NEW;
END
$$;
CREATE TRIGGER home_office_stated_once BEFORE INSERT ON home_offices FOR EACH ROW EXECUTE FUNCTION home_office_stated_once();

CREATE TABLE filings (
    books_id uuid NOT NULL,
    record_id uuid NOT NULL,
    tax_year int NOT NULL CHECK (tax_year BETWEEN 1900 AND 2200),
    filed_on date NOT NULL,
    head_number bigint NOT NULL CHECK (head_number >= 0),
    PRIMARY KEY (books_id, record_id),
    CHECK (EXTRACT(YEAR FROM filed_on) > tax_year),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id)
);
COMMENT ON TABLE filings IS 'Returns that were filed, the first of a year and amended ones.';
COMMENT ON COLUMN filings.head_number IS 'The ledger''s last entry when it was filed.';
CREATE INDEX filings_of_year ON filings (books_id, tax_year);
CALL fence_append_only('filings');

CREATE TABLE filed_lines (
    books_id uuid NOT NULL,
    record_id uuid NOT NULL,
    place int NOT NULL CHECK (place >= 0),
    part text NOT NULL,
    line text NOT NULL,
    label text NOT NULL,
    exact quantity_amount,
    whole quantity_amount,
    PRIMARY KEY (books_id, record_id, place),
    FOREIGN KEY (books_id, record_id) REFERENCES filings (books_id, record_id)
);
COMMENT ON TABLE filed_lines IS 'The lines of a form as they were filed: money to the cent or miles, and in whole units.';
CALL fence_append_only('filed_lines');
