CREATE TABLE lots (
    books_id uuid NOT NULL,
    id uuid NOT NULL,
    record_id uuid NOT NULL,
    source_id uuid NOT NULL,
    material text NOT NULL CHECK (material <> ''),
    unit text NOT NULL CHECK (unit <> ''),
    bought_unit text CHECK (bought_unit <> '' AND bought_unit <> unit),
    bought_factor text CHECK (bought_factor ~ '^[1-9][0-9]{0,17}(/[1-9][0-9]{0,17})?$'),
    quantity quantity_amount NOT NULL CHECK (quantity > 0),
    cost money_amount NOT NULL CHECK (cost >= 0),
    acquired_on date NOT NULL,
    treatment text NOT NULL,
    category text NOT NULL,
    standing text NOT NULL CHECK (standing IN ('on_hand', 'expensed')),
    PRIMARY KEY (books_id, id),
    CHECK (num_nonnulls(bought_unit, bought_factor) <> 1),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id),
    FOREIGN KEY (books_id, source_id) REFERENCES sources (books_id, id)
);
COMMENT ON TABLE lots IS 'Stock left from a purchase; lots of one material share its name.';
COMMENT ON COLUMN lots.standing IS 'on_hand: its cost waits on the shelf; expensed: it was deducted when it was paid.';
COMMENT ON COLUMN lots.unit IS 'What the lot is kept in; its quantity and its moves are in this unit.';
COMMENT ON COLUMN lots.bought_unit IS 'What it was bought in, where that is another unit.';
COMMENT ON COLUMN lots.bought_factor IS 'How much of unit one bought_unit is: a whole number or a fraction in lowest terms.';
CREATE INDEX lots_by_material ON lots (books_id, material, acquired_on, id);
CALL fence_append_only('lots');

CREATE TABLE lot_moves (
    books_id uuid NOT NULL,
    id uuid NOT NULL,
    lot_id uuid NOT NULL,
    record_id uuid NOT NULL,
    date date NOT NULL,
    kind text NOT NULL CHECK (kind IN ('issued', 'came_back', 'wasted', 'counted_short', 'counted_over', 'returned_to_vendor',
        'rebated', 'rebate_passed_on')),
    quantity quantity_amount NOT NULL,
    cost money_amount NOT NULL,
    episode_id uuid,
    project_id uuid,
    piece_id uuid,
    treatment text NOT NULL,
    PRIMARY KEY (books_id, id),
    CHECK (num_nonnulls(episode_id, project_id, piece_id) <= 1),
    FOREIGN KEY (books_id, lot_id) REFERENCES lots (books_id, id),
    FOREIGN KEY (books_id, record_id) REFERENCES records (books_id, id),
    FOREIGN KEY (books_id, episode_id) REFERENCES episodes (books_id, id),
    FOREIGN KEY (books_id, project_id) REFERENCES projects (books_id, id),
    FOREIGN KEY (books_id, piece_id) REFERENCES pieces (books_id, id)
);
COMMENT ON TABLE lot_moves IS 'What left a lot or came back; negative leaves.';
COMMENT ON COLUMN lot_moves.kind IS 'What moved it; a rebate moves money only: off the lot, and what of it passes on to where the lot went.';
COMMENT ON COLUMN lot_moves.treatment IS 'What it was to the tax office as it left; a come-back undoes the same.';
CREATE INDEX lot_moves_of_lot ON lot_moves (books_id, lot_id);
CALL fence_append_only('lot_moves');

-- Checked at commit: no lot gives more than it has. Moves of reversed records do not count.
CREATE FUNCTION lot_holds() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    left_over numeric;
    cost_left numeric;
BEGIN
    SELECT l.quantity + coalesce(sum(m.quantity), 0), l.cost + coalesce(sum(m.cost), 0) INTO left_over, cost_left
        FROM lots l LEFT JOIN lot_moves m ON m.books_id = l.books_id AND m.lot_id = l.id
            AND NOT EXISTS (SELECT FROM record_reversals r
                            WHERE r.books_id = m.books_id AND r.record_id = m.record_id)
        WHERE l.books_id = NEW.books_id AND l.id = NEW.lot_id
        GROUP BY l.quantity, l.cost;
    IF left_over < 0 OR cost_left < 0 THEN
        RAISE EXCEPTION 'lot % would hold % at %', NEW.lot_id, left_over, cost_left
            USING ERRCODE = 'check_violation', CONSTRAINT = 'lots_hold_what_they_give';
    END IF;
    RETURN NULL;
END
$$;
CREATE CONSTRAINT TRIGGER lot_holds AFTER INSERT ON lot_moves DEFERRABLE INITIALLY DEFERRED
    FOR EACH ROW EXECUTE FUNCTION lot_holds();
