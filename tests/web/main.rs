//! The pages in a real browser, on the demo club: one file a subject. Run with a part of a name, only those run.
//!
//! One service and one browser at a time: the subjects take turns, and the service's clock stands until one moves it.
//! Whether pages can be used by everybody (contrast, names, keyboard) is a subject of its own beside these.

mod access;
mod acts;
mod club;
mod everybody;
mod forms;
mod icons;
mod labels;
mod main_job;
mod no_signal;
mod outbox;
mod photos;
mod quiet;

use std::cell::OnceCell;
use std::process::ExitCode;

use preen_tests::runner::{Test, run};

use club::DemoClub;

type Subject = (&'static str, fn(&DemoClub));

/// In this order: what moves the clock or fills the record comes last.
const SUBJECTS: &[Subject] = &[
    ("access::signing_in_and_out", access::signing_in_and_out),
    ("access::a_wrong_password_is_told_and_nothing_typed_is_lost", access::a_wrong_password_is_told),
    ("quiet::pages_load_nothing_from_elsewhere_and_complain_of_nothing", quiet::nothing_from_elsewhere),
    ("icons::home_screens_get_the_drawing_in_the_sizes_they_ask_for", icons::of_the_drawing),
    ("everybody::an_independent_checker_finds_nothing", everybody::the_checker_finds_nothing),
    (
        "everybody::pages_fit_a_narrow_screen_and_stay_small",
        everybody::pages_fit_a_narrow_screen_and_stay_small,
    ),
    ("everybody::nothing_shifts_when_a_page_has_come", everybody::nothing_shifts_when_a_page_has_come),
    ("everybody::the_keyboard_reaches_everything", everybody::the_keyboard_reaches_everything),
    ("main_job::by_hand", main_job::by_hand),
    ("forms::without_a_script_a_flight_is_logged_by_its_form", forms::without_a_script),
    ("forms::with_and_without_a_script_the_same_is_recorded", forms::the_same_either_way),
    ("forms::moments_are_by_the_club_clock", forms::moments),
    ("forms::a_label_opens_what_it_is_on", forms::a_label_opens),
    ("labels::a_photo_of_one_opens_what_it_is_on_without_a_script", labels::on_a_photo),
    ("labels::before_the_camera_one_opens_what_it_is_on", labels::before_the_camera),
    ("forms::a_hard_landing_says_at_once_what_follows", forms::a_hard_landing),
    ("acts::a_repair_begins_with_its_defect_or_its_part", acts::a_repair),
    ("photos::without_a_script_they_go_with_their_forms", photos::without_a_script),
    ("photos::forms_with_files_come_from_pages_alone", photos::only_from_a_page),
    ("outbox::what_is_refused_is_kept_with_its_reason", outbox::refused),
    ("outbox::what_stands_against_the_record_becomes_a_question", outbox::asked),
    ("outbox::a_defect_goes_with_its_photo", outbox::with_photo),
    ("outbox::a_full_store_is_said_and_the_form_stays", outbox::full_store),
    ("outbox::what_the_service_cannot_take_now_waits", outbox::busy),
    ("outbox::who_says_when_is_not_asked_before", outbox::told_to_wait),
    ("outbox::a_session_that_ended_loses_nothing", outbox::session_ended),
    ("outbox::two_tabs_send_once", outbox::two_tabs),
    ("no_signal::a_day_without_signal_and_a_dead_battery", no_signal::a_day_without_signal),
    ("no_signal::a_kept_page_opens_where_nothing_answers", no_signal::nothing_answers),
    ("no_signal::pages_of_one_member_are_not_shown_to_another", no_signal::pages_of_another),
    ("acts::a_campaign_is_closed_as_it_was_looked_at", acts::closing_a_campaign),
];

fn main() -> ExitCode {
    // Begun with the first subject, if there is one.
    let club: OnceCell<DemoClub> = OnceCell::new();
    let tests = SUBJECTS.iter().map(|(name, subject)| -> Test<'_> {
        let test = || {
            let club = club.get_or_init(DemoClub::begin);
            // Whatever the subject before has left.
            club.link.mend();
            subject(club);
            String::new()
        };
        ((*name).to_owned(), Box::new(test))
    });
    run(&tests.collect::<Vec<_>>(), "")
}
