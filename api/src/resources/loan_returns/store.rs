//! The table of loan returns.

use preen_domain::facts::LoanReturn;

fact_rows! {
    loan_returns: LoanReturn, moment: some, {
        loan: Text,
        occurred_at: Moment,
        note: MaybeText,
    }
}
