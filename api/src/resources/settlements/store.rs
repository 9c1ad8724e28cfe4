//! The table of settlements.

use preen_domain::facts::Settlement;

fact_rows! {
    settlements: Settlement, moment: some, {
        question: Text,
        occurred_at: Moment,
        text: Text,
    }
}
