DROP TABLE trips;
