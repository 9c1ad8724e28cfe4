//! The table of questions.

use preen_domain::facts::Question;

fact_rows! {
    questions: Question, moment: some, {
        noun: Text,
        fact: Json,
        reasons: Json,
        occurred_at: Moment,
    }
}
