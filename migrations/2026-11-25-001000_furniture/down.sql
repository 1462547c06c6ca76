DROP TABLE piece_leavings, piece_sales, pieces;
DROP FUNCTION piece_sold_once();
DROP FUNCTION piece_is_gone(uuid, uuid, uuid);
