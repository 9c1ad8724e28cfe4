DROP TABLE names;
DROP TABLE tokens;
DROP TABLE trail_payloads;
DROP TABLE trail;
DROP TABLE clubs;
