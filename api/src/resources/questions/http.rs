//! Routes of questions.

use preen_domain::facts::Question;

record_routes! {
    Question, "questions",
    list list_questions "/questions" "Lists questions.",
    find find_question "/questions/{id}" "Finds a question.",
}
