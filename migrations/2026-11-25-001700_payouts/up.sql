CREATE TABLE payouts (
    books_id uuid NOT NULL,
    record_id uuid NOT NULL,
    platform_id uuid NOT NULL,
    account_id uuid NOT NULL,
    income_on date NOT NULL,
    received_on date NOT NULL CHECK (received_on >= income_on),
    gross money_amount NOT NULL CHECK (gross >= 0),
    fees money_amount NOT NULL CHECK (fees >= 0),
    tax_withheld money_amount NOT NULL CHECK (tax_withheld >= 0),
    reserve_held money_amount NOT NULL CHECK (reserve_held >= 0),
    reserve_released money_amount NOT NULL CHECK (reserve_released >= 0),
    adjustments money_amount NOT NULL,
    net money_amount NOT NULL,
    PRIMARY KEY (books_id, record_id),
    CHECK (net = gross - fees - tax_withheld - reserve_held + reserve_released + adjustments),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id),
    FOREIGN KEY (books_id, platform_id) REFERENCES parties (books_id, id),
    FOREIGN KEY (books_id, account_id) REFERENCES money_accounts (books_id, id)
);
COMMENT ON TABLE payouts IS 'One platform statement each: gross, what was kept, and the day the rest reached the owner.';
COMMENT ON COLUMN payouts.income_on IS 'The day its income belongs to: received on the cash basis, earned in accrual books.';
CALL fence_append_only('payouts');
