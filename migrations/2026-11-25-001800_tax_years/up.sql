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
COMMENT ON COLUMN period_acts.after_number IS 'The books'' last entry when the act was recorded: later entries must lie after the closed days.';
CALL fence_append_only('period_acts');
