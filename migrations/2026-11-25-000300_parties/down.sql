DROP TABLE parties;
