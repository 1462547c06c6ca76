CREATE TABLE deals (
    books_id uuid NOT NULL,
    id uuid NOT NULL,
    record_id uuid NOT NULL,
    sponsor_id uuid NOT NULL,
    agency_id uuid,
    title text NOT NULL CHECK (title <> ''),
    agreed_on date NOT NULL,
    agreed money_amount NOT NULL CHECK (agreed >= 0),
    paid_before money_amount NOT NULL CHECK (paid_before BETWEEN 0 AND agreed),
    PRIMARY KEY (books_id, id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id),
    FOREIGN KEY (books_id, sponsor_id) REFERENCES parties (books_id, id),
    FOREIGN KEY (books_id, agency_id) REFERENCES parties (books_id, id)
);
COMMENT ON TABLE deals IS 'Agreements with sponsors.';
CALL fence_append_only('deals');

CREATE TABLE promises (
    books_id uuid NOT NULL,
    id uuid NOT NULL,
    record_id uuid NOT NULL,
    deal_id uuid NOT NULL,
    what text NOT NULL CHECK (what <> ''),
    episode_id uuid,
    due_on date NOT NULL,
    PRIMARY KEY (books_id, id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id),
    FOREIGN KEY (books_id, deal_id) REFERENCES deals (books_id, id),
    FOREIGN KEY (books_id, episode_id) REFERENCES episodes (books_id, id)
);
COMMENT ON TABLE promises IS 'What was promised to a sponsor by when.';
CALL fence_append_only('promises');

CREATE TABLE instalments (
    books_id uuid NOT NULL,
    record_id uuid NOT NULL,
    deal_id uuid NOT NULL,
    gross money_amount NOT NULL CHECK (gross > 0),
    kept_by_agency money_amount NOT NULL CHECK (kept_by_agency >= 0),
    kept_by_bank money_amount NOT NULL CHECK (kept_by_bank >= 0),
    tax_withheld money_amount NOT NULL CHECK (tax_withheld >= 0),
    net money_amount NOT NULL,
    received_from text NOT NULL CHECK (received_from IN ('sponsor', 'agency')),
    income_on date NOT NULL,
    received_on date NOT NULL CHECK (received_on >= income_on),
    PRIMARY KEY (books_id, record_id),
    CHECK (net = gross - kept_by_agency - kept_by_bank - tax_withheld),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id),
    FOREIGN KEY (books_id, deal_id) REFERENCES deals (books_id, id)
);
COMMENT ON TABLE instalments IS 'Each sum that came in on a deal, and what was kept of it on the way.';
COMMENT ON COLUMN instalments.income_on IS 'The day it was the owner''s to have: the agency''s day where an agency stood between.';
CREATE INDEX instalments_of_deal ON instalments (books_id, deal_id);
CALL fence_append_only('instalments');
