CREATE TABLE deals (
    books_id uuid NOT NULL,
    id uuid NOT NULL,
    record_id uuid NOT NULL,
    sponsor_id uuid NOT NULL,
    agency_id uuid,
    title text NOT NULL CHECK (title <> ''),
    agreed_on date NOT NULL,
    currency text NOT NULL CHECK (currency ~ '^[A-Z]{3}$'),
    agreed money_amount NOT NULL CHECK (agreed >= 0),
    paid_before money_amount NOT NULL CHECK (paid_before BETWEEN 0 AND agreed),
    PRIMARY KEY (books_id, id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id),
    FOREIGN KEY (books_id, sponsor_id) REFERENCES parties (books_id, id),
    FOREIGN KEY (books_id, agency_id) REFERENCES parties (books_id, id)
);
COMMENT ON TABLE deals IS 'Agreements with sponsors.';
COMMENT ON COLUMN deals.currency IS 'The deal''s own: agreed and paid_before are in it, and what instalments count.';
CALL fence_append_only('deals');

ALTER TABLE gifts ADD COLUMN deal_id uuid;
ALTER TABLE gifts ADD FOREIGN KEY (books_id, deal_id) REFERENCES deals (books_id, id);
COMMENT ON COLUMN gifts.deal_id IS 'The deal the goods came under, where they are part of one.';

CREATE TABLE deal_shares (
    books_id uuid NOT NULL,
    id uuid NOT NULL,
    record_id uuid NOT NULL,
    deal_id uuid NOT NULL,
    episode_id uuid,
    project_id uuid,
    weight numeric(19, 6) NOT NULL CHECK (weight >= 0 AND weight <> 'NaN'),
    PRIMARY KEY (books_id, id),
    CHECK (num_nonnulls(episode_id, project_id) = 1),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id),
    FOREIGN KEY (books_id, deal_id) REFERENCES deals (books_id, id),
    FOREIGN KEY (books_id, episode_id) REFERENCES episodes (books_id, id),
    FOREIGN KEY (books_id, project_id) REFERENCES projects (books_id, id)
);
COMMENT ON TABLE deal_shares IS 'The episodes and projects a deal counts for, by weight.';
CREATE INDEX deal_shares_of_deal ON deal_shares (books_id, deal_id);
CALL fence_append_only('deal_shares');

CREATE TABLE instalments_due (
    books_id uuid NOT NULL,
    id uuid NOT NULL,
    record_id uuid NOT NULL,
    deal_id uuid NOT NULL,
    due_on date NOT NULL,
    amount money_amount NOT NULL CHECK (amount > 0),
    what text NOT NULL CHECK (what <> ''),
    PRIMARY KEY (books_id, id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id),
    FOREIGN KEY (books_id, deal_id) REFERENCES deals (books_id, id)
);
COMMENT ON TABLE instalments_due IS 'The parts of a deal''s total and their days, in the deal''s own currency.';
CREATE INDEX instalments_due_of_deal ON instalments_due (books_id, deal_id);
CALL fence_append_only('instalments_due');

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
CREATE INDEX promises_of_deal ON promises (books_id, deal_id);
CALL fence_append_only('promises');

CREATE TABLE promises_kept (
    books_id uuid NOT NULL,
    promise_id uuid NOT NULL,
    record_id uuid NOT NULL,
    kept_on date NOT NULL,
    kept_where text CHECK (kept_where <> ''),
    PRIMARY KEY (books_id, promise_id, record_id),
    FOREIGN KEY (books_id, promise_id) REFERENCES promises (books_id, id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id)
);
COMMENT ON TABLE promises_kept IS 'When a promise was kept; once, unless that was reversed.';
COMMENT ON COLUMN promises_kept.kept_where IS 'Where that can be seen, in the owner''s words or as an address.';
CALL fence_append_only('promises_kept');

-- A promise is kept once: again only when every earlier time was reversed; never before the deal was agreed.
CREATE FUNCTION promise_kept_once() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF EXISTS (
        SELECT FROM promises_kept kept
        WHERE kept.books_id = NEW.books_id AND kept.promise_id = NEW.promise_id AND kept.record_id <> NEW.record_id
          AND NOT EXISTS (SELECT FROM record_reversals r
                          WHERE r.books_id = kept.books_id AND r.record_id = kept.record_id)
    ) THEN
        RAISE EXCEPTION 'promise % is kept already', NEW.promise_id
            USING ERRCODE = 'check_violation', CONSTRAINT = 'promises_kept_once';
    END IF;
    IF NEW.kept_on < (SELECT deal.agreed_on FROM promises promise
                      JOIN deals deal ON deal.books_id = promise.books_id AND deal.id = promise.deal_id
                      WHERE promise.books_id = NEW.books_id AND promise.id = NEW.promise_id) THEN
        RAISE EXCEPTION 'promise % is kept before it was made', NEW.promise_id
            USING ERRCODE = 'check_violation', CONSTRAINT = 'promises_kept_after_they_were_made';
    END IF;
    RETURN NEW;
END
$$;
CREATE TRIGGER promise_kept_once BEFORE INSERT ON promises_kept
    FOR EACH ROW EXECUTE FUNCTION promise_kept_once();

CREATE TABLE instalments (
    books_id uuid NOT NULL,
    record_id uuid NOT NULL,
    deal_id uuid NOT NULL,
    counts money_amount NOT NULL CHECK (counts > 0),
    gross money_amount NOT NULL CHECK (gross > 0),
    settled money_amount NOT NULL CHECK (settled >= 0),
    exchange_gain money_amount NOT NULL,
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
COMMENT ON COLUMN instalments.counts IS 'The gross in the deal''s own currency, held against the total agreed.';
COMMENT ON COLUMN instalments.income_on IS 'The day it was the owner''s to have: the agency''s day where an agency stood between.';
COMMENT ON COLUMN instalments.settled IS 'What of the gross was booked before with invoices; zero on the cash basis.';
COMMENT ON COLUMN instalments.exchange_gain IS 'What the rate moved between invoices and their payment; negative for a loss.';
CREATE INDEX instalments_of_deal ON instalments (books_id, deal_id);
CALL fence_append_only('instalments');

CREATE TABLE clawbacks (
    books_id uuid NOT NULL,
    record_id uuid NOT NULL,
    deal_id uuid NOT NULL,
    paid_on date NOT NULL,
    counts money_amount NOT NULL CHECK (counts > 0),
    amount money_amount NOT NULL CHECK (amount >= 0),
    PRIMARY KEY (books_id, record_id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id),
    FOREIGN KEY (books_id, deal_id) REFERENCES deals (books_id, id)
);
COMMENT ON TABLE clawbacks IS 'What went back to a sponsor.';
COMMENT ON COLUMN clawbacks.counts IS 'The same in the deal''s own currency.';
CREATE INDEX clawbacks_of_deal ON clawbacks (books_id, deal_id);
CALL fence_append_only('clawbacks');

CREATE TABLE invoices (
    books_id uuid NOT NULL,
    record_id uuid NOT NULL,
    deal_id uuid NOT NULL,
    invoiced_on date NOT NULL,
    what text NOT NULL CHECK (what <> ''),
    counts money_amount NOT NULL CHECK (counts > 0),
    booked money_amount CHECK (booked >= 0),
    PRIMARY KEY (books_id, record_id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id),
    FOREIGN KEY (books_id, deal_id) REFERENCES deals (books_id, id)
);
COMMENT ON TABLE invoices IS 'What was invoiced to sponsors.';
COMMENT ON COLUMN invoices.counts IS 'In the deal''s own currency.';
COMMENT ON COLUMN invoices.booked IS 'What the receivable was booked with; none on the cash basis, where an invoice posts nothing.';
CREATE INDEX invoices_of_deal ON invoices (books_id, deal_id);
CALL fence_append_only('invoices');

CREATE TABLE settlements (
    books_id uuid NOT NULL,
    record_id uuid NOT NULL,
    invoice_id uuid NOT NULL,
    counts money_amount NOT NULL CHECK (counts > 0),
    booked money_amount NOT NULL CHECK (booked >= 0),
    PRIMARY KEY (books_id, record_id, invoice_id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id),
    FOREIGN KEY (books_id, invoice_id) REFERENCES invoices (books_id, record_id)
);
COMMENT ON TABLE settlements IS 'What instalments paid of invoices.';
COMMENT ON COLUMN settlements.record_id IS 'The instalment.';
COMMENT ON COLUMN settlements.booked IS 'What it takes off the receivable; zero on the cash basis.';
CREATE INDEX settlements_of_invoice ON settlements (books_id, invoice_id);
CALL fence_append_only('settlements');
