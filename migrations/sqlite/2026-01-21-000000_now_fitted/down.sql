DROP TABLE now_fitted;
