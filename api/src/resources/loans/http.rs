//! Routes of loans.

use preen_domain::facts::Loan;

record_routes! {
    Loan, "loans",
    list list_loans "/loans" "Lists loans.",
    find find_loan "/loans/{id}" "Finds a loan by id or tag.",
    add lend_item "/loans" "Lends a part or a model.",
    correct correct_loan "/loans/{id}/correction" "Corrects a loan, or says that it never was.",
}
