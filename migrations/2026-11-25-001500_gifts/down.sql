DROP TABLE gifts;
