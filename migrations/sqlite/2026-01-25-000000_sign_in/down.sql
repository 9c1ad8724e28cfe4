DROP TABLE sign_in_attempts;
DROP TABLE sessions;
DROP TABLE passwords;
