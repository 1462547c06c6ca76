DROP TABLE piece_sales, pieces;
DROP FUNCTION piece_sold_once();
