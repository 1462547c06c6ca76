CREATE OR REPLACE FUNCTION piece_is_gone(books uuid, piece uuid, but_for uuid) RETURNS boolean LANGUAGE sql STABLE AS $$
    SELECT EXISTS (
        SELECT FROM (
            SELECT sale.record_id FROM piece_sales sale
            WHERE sale.books_id = books AND sale.piece_id = piece
              AND NOT EXISTS (SELECT FROM piece_refunds refund
                              WHERE refund.books_id = books AND refund.piece_id = piece
                                AND refund.sale_id = sale.record_id AND refund.back = 'came_back'
                                AND NOT EXISTS (SELECT FROM record_reversals r
                                                WHERE r.books_id = books AND r.record_id = refund.record_id))
            UNION ALL
            SELECT leaving.record_id FROM piece_leavings leaving
            WHERE leaving.books_id = books AND leaving.piece_id = piece
        ) went
        WHERE went.record_id <> but_for
          AND NOT EXISTS (SELECT FROM record_reversals r
                          WHERE r.books_id = books AND r.record_id = went.record_id)
    )
$$;
