//! Every *no* can be cleared: for each reason that may-fly can give, a test brings it about, reads what clears it, does
//! that by facts that the rules accept, and sees the reason go. A reason without such a test fails.
//!
//! * [`said`]: the reasons there are, read from the source of the answers.
//! * [`parts`], [`checks`], [`repairs`], [`campaigns`]: what brings each about and what clears it.

mod campaigns;
mod checks;
mod parts;
mod repairs;
mod said;

use preen_domain::{
    answers::{ModelVerdict, Moment, may_fly_one},
    facts::{Fact, Loan, Recorded, Subject},
    finding::Finding,
    fleet::Fleet,
    rules::{check_by, check_correction},
    time::{Instant, day_of},
    words::Severity,
};
use preen_tests::demo_fleet::{NOW, at, demo, id, member, model};
use serde_json::{Value, json};

use crate::said::fact;

/// A code, and what brings its reason about and clears it.
type Cleared = (&'static str, fn());

fn all() -> Vec<Cleared> {
    [parts::CLEARED, checks::CLEARED, repairs::CLEARED, campaigns::CLEARED].concat()
}

#[test]
fn every_reason_is_cleared_by_what_it_says() {
    let mut tested: Vec<&str> = all().iter().map(|(code, _)| *code).collect();
    tested.sort_unstable();
    tested.dedup();
    assert_eq!(tested, said::codes(), "each reason of may-fly has its test here, and each test its reason");
    let failed: Vec<&str> = all()
        .into_iter()
        .filter(|(_, clear)| std::panic::catch_unwind(clear).is_err())
        .map(|(code, _)| code)
        .collect();
    assert!(failed.is_empty(), "not cleared, for the causes said above: {failed:?}");
}

/// The demo club to which something is done, each step by the rules.
struct Club {
    fleet: Fleet,
    now: Instant,
    number: u32,
    /// The model asked about.
    tag: &'static str,
}

impl Club {
    fn of(tag: &'static str) -> Self {
        Self { fleet: demo(), now: at(NOW), number: 0, tag }
    }

    /// Lets time pass.
    fn at(&mut self, now: &str) {
        self.now = at(now);
    }

    fn id(&mut self) -> String {
        self.number += 1;
        format!("01970000-0000-7000-8000-{:012}", 700_000 + self.number)
    }

    /// Records something now, by the keeper of the demo unless it says otherwise; items may be named by `#noun:tag`,
    /// `#model` is the model asked about. Returns its id.
    #[track_caller]
    fn enter(&mut self, noun: &str, body: Value) -> String {
        let mut body = body;
        let id = self.id();
        body["id"] = json!(id);
        if noun != "corrections" {
            // Two things at one moment have no order.
            self.now = self.now.plus_seconds(1);
            body["occurred_at"] = json!(self.now);
        }
        if body.get("model").is_some_and(|model| *model == "#model") {
            body["model"] = json!(format!("#models:{}", self.tag));
        }
        self.record(fact(&self.fleet, noun, body));
        id
    }

    /// Records a fact that the rules accept.
    #[track_caller]
    fn record(&mut self, fact: Fact) {
        let by = member(&self.fleet, "FS");
        let recorded =
            Recorded { fact, recorded_at: self.now, recorded_by: by, revision: self.fleet.revision() + 1 };
        let broken = match &recorded.fact {
            Fact::Correction(correction) => {
                check_correction(&self.fleet, &recorded.with(correction.clone()), self.now)
            }
            fact => check_by(&self.fleet, fact, by, self.now),
        };
        assert_eq!(broken, [], "{:?}", recorded.fact);
        self.fleet.apply(&recorded);
    }

    fn verdict(&self) -> ModelVerdict {
        let on = day_of(self.now, self.fleet.club().zone);
        let moment = Moment { as_of: self.now, on, pilot: None };
        may_fly_one(&self.fleet, model(&self.fleet, self.tag), moment).unwrap()
    }

    fn found(&self, code: &str) -> Option<Finding> {
        self.verdict().reasons.into_iter().find(|reason| reason.code == code)
    }

    /// The model may not fly for this reason, which is cleared by this.
    #[track_caller]
    fn no(&self, code: &str, clear_by: &str) {
        self.says(code, Severity::Ground, clear_by);
        assert!(!self.verdict().may_fly);
    }

    /// The reason is there with its class and with what clears it.
    #[track_caller]
    fn says(&self, code: &str, severity: Severity, clear_by: &str) {
        let reason = self.found(code);
        let reason = reason.unwrap_or_else(|| panic!("no {code}: {:#?}", self.verdict().reasons));
        assert_eq!((reason.severity, reason.clear_by.as_str()), (severity, clear_by), "{}", reason.text);
    }

    /// The reason is gone.
    #[track_caller]
    fn is_gone(&self, code: &str) {
        assert_eq!(self.found(code), None);
    }

    /// The reason is gone and the model may fly.
    #[track_caller]
    fn yes(&self, code: &str) {
        self.is_gone(code);
        let verdict = self.verdict();
        assert!(verdict.may_fly, "{:#?}", verdict.reasons);
    }

    /// Passes a check on the model.
    #[track_caller]
    fn pass(&mut self, group: &str) {
        let body = json!({"model": "#model", "group": group, "result": "pass", "is_summary": true,
                          "inspected_by": "#members:QS"});
        self.enter("inspections", body);
    }

    /// Takes a part out of where it sits.
    #[track_caller]
    fn take_out(&mut self, tag: &str) {
        let component = id(&self.fleet, "components".parse().unwrap(), tag);
        let file = self.fleet.component(component.into()).unwrap();
        let installation = file.spans.iter().find(|span| span.to.is_none()).unwrap().installation;
        let body = json!({"installation": installation, "component": component, "reason": "preventive"});
        self.enter("removals", body);
    }

    /// Fits a part in a position of the model, or of a part.
    #[track_caller]
    fn fit(&mut self, tag: &str, inside: Option<&str>, position: &str) {
        let inside = inside.map_or_else(
            || json!({"model": format!("#models:{}", self.tag)}),
            |part| json!({"component": format!("#components:{part}")}),
        );
        let body = json!({"component": format!("#components:{tag}"), "inside": inside, "position": position});
        self.enter("installations", body);
    }

    /// The loan of an item that runs.
    fn loan_of(&self, item: &Subject) -> Loan {
        let loans = self.fleet.loans().filter_map(|(_, file)| file.loan.as_ref());
        loans.map(|recorded| &recorded.fact).find(|loan| loan.item == *item).unwrap().clone()
    }

    #[track_caller]
    fn measure(&mut self, part: &str, quantity: &str, unit: &str, value: f64) {
        let body = json!({"subject": {"component": format!("#components:{part}")}, "quantity": quantity,
                          "unit": unit, "values": [value]});
        self.enter("measurements", body);
    }
}
