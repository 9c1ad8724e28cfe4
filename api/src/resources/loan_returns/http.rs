//! Routes of loan returns.

use preen_domain::facts::LoanReturn;

record_routes! {
    LoanReturn, "loan-returns",
    list list_loan_returns "/loan-returns" "Lists loan returns.",
    find find_loan_return "/loan-returns/{id}" "Finds a loan return by id.",
    add return_loan "/loan-returns" "Takes back what was lent.",
    correct correct_loan_return "/loan-returns/{id}/correction" "Corrects a loan return, or says that it never was.",
}
