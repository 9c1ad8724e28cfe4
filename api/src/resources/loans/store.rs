//! The table of loans.

use preen_domain::facts::Loan;

fact_rows! {
    loans: Loan, moment: some, {
        tag: MaybeText,
        item: Pointer,
        lent_to: Text,
        for_model: MaybeText,
        occurred_at: Moment,
        from_on: Text,
        due_back_on: Text,
        note: MaybeText,
    }
}
