DROP TABLE piece_deposits, piece_consignments, piece_refunds, piece_leavings, piece_sales, pieces;
DROP FUNCTION piece_deposit_holds();
DROP FUNCTION piece_sold_once();
DROP FUNCTION piece_is_gone(uuid, uuid, uuid);
