CREATE TABLE tax_year_elections (
    books_id uuid NOT NULL,
    record_id uuid NOT NULL,
    tax_year int NOT NULL CHECK (tax_year BETWEEN 1900 AND 2200),
    kind text NOT NULL CHECK (kind IN ('de_minimis', 'no_special_allowance', 'straight_line', 'lower_allowance_2025', 'inventory_as_materials')),
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
