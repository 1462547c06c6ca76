DROP TABLE instalments, promises, deals;
