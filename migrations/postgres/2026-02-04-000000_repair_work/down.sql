DROP TABLE repair_steps;
