DROP TABLE lot_moves, lots;
DROP FUNCTION lot_holds();
