//! `preen wire`: what a servo gets at the end of its lead, the smallest gauge for a limit, the supply's margin, contacts,
//! crimps and slack, computed on the bench.

use preen_domain::answers::compute::{
    ChooseQuestion, ContactsQuestion, CrimpQuestion, DutySource, LeadQuestion, SlackQuestion, SupplyAnswer,
    SupplyQuestion, WireAnswer, WireQuestion, compute_wire,
};
use preen_domain::formulas::wire::choose::Stranding;
use preen_domain::formulas::wire::contact::CrimpSource;
use preen_domain::formulas::wire::drop::Running;
use preen_domain::formulas::wire::stranded::WireSource;
use preen_domain::formulas::wire::supply::ServoDraw;

use super::balance::field;
use super::bench;
use super::bench_answer::{reply, say_class};
use crate::Io;
use crate::failure::Failure;
use crate::output::{Cell, Reply};

/// Any of: a lead, a limit, a supply, contacts, a crimp, slack.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "A lead: --length, --current and --awg (or --area, --mohm-per-m). A limit: --length, --current \
                        and --max-drop (or --nominal). A supply: --servos and --peak. Exit code 1: something restricts; 2: \
                        something grounds."
)]
pub struct Args {
    /// The whole question as JSON, as the service takes it; `-` is the input
    #[arg(long, value_name = "FILE", conflicts_with = "WireTyped")]
    from: Option<String>,
    #[command(flatten)]
    typed: WireTyped,
}

/// What is asked, flag by flag.
#[derive(Debug, clap::Args)]
#[group(id = "WireTyped", multiple = true)]
pub struct WireTyped {
    /// Length of the lead one way
    #[arg(long, value_name = "M", requires = "current", help_heading = "Lead")]
    length: Option<f64>,
    /// Current
    #[arg(long, value_name = "A", requires = "length", help_heading = "Lead")]
    current: Option<f64>,
    /// Gauge of the wire (-3 is 4/0)
    #[arg(
        long,
        value_name = "GAUGE",
        requires = "length",
        allow_hyphen_values = true,
        help_heading = "Lead"
    )]
    awg: Option<i32>,
    /// Copper area of the wire
    #[arg(long, value_name = "MM2", requires = "length", help_heading = "Lead")]
    area: Option<f64>,
    /// Measured resistance of one conductor, for each metre
    #[arg(long, value_name = "MOHM", requires = "length", help_heading = "Lead")]
    mohm_per_m: Option<f64>,
    /// Take the tables for stranded wire [default: the copper area of the gauge]
    #[arg(long, requires = "length", help_heading = "Lead")]
    stranded: bool,
    /// Temperature of the wire [default: 20]
    #[arg(long, value_name = "C", requires = "length", allow_hyphen_values = true, help_heading = "Lead")]
    temperature: Option<f64>,
    /// Contact pairs in the way
    #[arg(long, value_name = "COUNT", requires_all = ["length", "contact"], default_value_t = 0,
        help_heading = "Lead")]
    pairs: u32,
    /// Resistance of each of these contacts
    #[arg(long, value_name = "MOHM", requires = "length", help_heading = "Lead")]
    contact: Option<f64>,
    /// Voltage of the supply, for what the consumer gets
    #[arg(long, value_name = "V", requires = "length", help_heading = "Lead")]
    supply: Option<f64>,
    /// Standard uncertainty of the length
    #[arg(long, value_name = "M", requires = "length", default_value_t = 0.0, help_heading = "Lead")]
    u_length: f64,
    /// Standard uncertainty of the current
    #[arg(long, value_name = "A", requires = "length", default_value_t = 0.0, help_heading = "Lead")]
    u_current: f64,
    /// Standard uncertainty of each contact's resistance
    #[arg(long, value_name = "MOHM", requires = "length", default_value_t = 0.0, help_heading = "Lead")]
    u_contact: f64,
    /// Find the smallest gauge that drops no more than this
    #[arg(long, value_name = "V", requires = "length", conflicts_with = "nominal", help_heading = "Limit")]
    max_drop: Option<f64>,
    /// Find the smallest gauge for the published limit of a system of 14, 28, 115 or 200 V
    #[arg(long, value_name = "V", requires = "length", help_heading = "Limit")]
    nominal: Option<u32>,
    /// The current flows for two minutes at most
    #[arg(long, requires = "nominal", help_heading = "Limit")]
    intermittent: bool,
    /// The structure carries the current back
    #[arg(long, requires = "length", help_heading = "Limit")]
    structure_return: bool,
    /// Servos of one kind on the supply
    #[arg(long, value_name = "COUNT:STALL_A", value_parser = servos, requires = "peak", help_heading = "Supply")]
    servos: Vec<ServoDraw>,
    /// What else draws steadily
    #[arg(long, value_name = "A", requires = "servos", default_value_t = 0.0, help_heading = "Supply")]
    steady: f64,
    /// What the supply gives at its peak
    #[arg(long, value_name = "A", requires = "servos", help_heading = "Supply")]
    peak: Option<f64>,
    /// Duty assumed, per cent of the stall currents [default: 40]
    #[arg(long, value_name = "PCT", requires = "servos", conflicts_with = "stir", help_heading = "Supply")]
    duty: Option<f64>,
    /// Measured draw while all sticks are stirred
    #[arg(long, value_name = "A", requires = "servos", help_heading = "Supply")]
    stir: Option<f64>,
    /// Part of the peak that should remain, per cent [default: 25]
    #[arg(long, value_name = "PCT", requires = "servos", help_heading = "Supply")]
    margin: Option<f64>,
    /// Resistance of each contact of a connector, separated by commas
    #[arg(long, value_name = "MOHM,…", value_delimiter = ',', help_heading = "Contacts")]
    contacts: Vec<f64>,
    /// Gauge of a crimp: what a sample must hold
    #[arg(long, value_name = "GAUGE", help_heading = "Contacts")]
    crimp: Option<i32>,
    /// Force at which the sample came off
    #[arg(long, value_name = "N", requires = "crimp", help_heading = "Contacts")]
    pulled: Option<f64>,
    /// Slack left at a connector
    #[arg(long, value_name = "MM", help_heading = "Contacts")]
    slack: Option<f64>,
    /// Loose contacts in stock
    #[arg(long, value_name = "COUNT", requires_all = ["slack", "ways"], help_heading = "Contacts")]
    stock: Option<u32>,
    /// Ways of the connector
    #[arg(long, value_name = "COUNT", requires = "stock", help_heading = "Contacts")]
    ways: Option<u32>,
}

/// Computes and shows.
pub fn run(args: &Args, io: &mut Io<'_>) -> Result<Reply, Failure> {
    let question = match &args.from {
        Some(file) => bench::read_question(io, file)?,
        None => question(&args.typed)?,
    };
    let (answer, json) = bench::compute(&question, compute_wire)?;
    Ok(show(json, &answer))
}

/// Servos: `COUNT:STALL_A`.
fn servos(text: &str) -> Result<ServoDraw, String> {
    let wrong = || format!("`{text}` is not COUNT:STALL_A, such as 2:1.8");
    let (count, stall) = text.split_once(':').ok_or_else(wrong)?;
    match (count.trim().parse(), stall.trim().parse::<f64>()) {
        (Ok(count), Ok(stall_a)) if stall_a.is_finite() => Ok(ServoDraw { count, stall_a }),
        _ => Err(wrong()),
    }
}

fn question(args: &WireTyped) -> Result<WireQuestion, Failure> {
    let mut question = WireQuestion::default();
    if let (Some(length_m), Some(current_a)) = (args.length, args.current) {
        let wire = args.stranded.then_some(Stranding::Stranded);
        let has_limit = args.max_drop.is_some() || args.nominal.is_some();
        if args.awg.is_some() || args.area.is_some() || args.mohm_per_m.is_some() {
            question.lead = Some(LeadQuestion {
                length_m,
                current_a,
                awg: args.awg,
                area_mm2: args.area,
                mohm_per_m: args.mohm_per_m,
                wire,
                temperature_c: args.temperature,
                contact_pairs: args.pairs,
                contact_mohm: args.contact,
                supply_v: args.supply,
                u_length_m: args.u_length,
                u_current_a: args.u_current,
                u_contact_mohm: args.u_contact,
                u_mohm_per_m: 0.0,
            });
        } else if !has_limit {
            return Err(Failure::bad_input("The wire of the lead is missing.")
                .hint("Give --awg, --area or --mohm-per-m; or --max-drop to find the smallest gauge."));
        }
        question.choose = has_limit.then(|| ChooseQuestion {
            length_m,
            current_a,
            max_drop_v: args.max_drop,
            nominal_v: args.nominal,
            running: args.intermittent.then_some(Running::Intermittent),
            contact_pairs: args.pairs,
            contact_mohm: args.contact,
            is_return_by_structure: args.structure_return,
            wire,
            temperature_c: args.temperature,
        });
    }
    question.supply = args.peak.map(|peak_a| SupplyQuestion {
        servos: args.servos.clone(),
        steady_a: args.steady,
        peak_a,
        duty_pct: args.duty,
        stir_a: args.stir,
        wanted_margin_pct: args.margin,
    });
    question.contacts = (!args.contacts.is_empty())
        .then(|| ContactsQuestion { contacts_mohm: args.contacts.clone(), limits_mohm: None });
    question.crimp = args.crimp.map(|awg| CrimpQuestion { awg, pulled_n: args.pulled });
    question.slack = args.slack.map(|slack_mm| SlackQuestion {
        slack_mm,
        kept_mm: None,
        taken_mm: None,
        contacts_in_stock: args.stock,
        ways: args.ways,
    });
    if question == WireQuestion::default() {
        return Err(Failure::bad_input("Nothing is asked about wires.")
            .hint("`preen wire --help` lists what can be asked; --from FILE takes a whole question."));
    }
    Ok(question)
}

fn show(json: String, answer: &WireAnswer) -> Reply {
    let mut fields = Vec::new();
    if let Some(lead) = &answer.lead {
        let lost = &lead.lost;
        let u = if lost.u_drop_v > 0.0 {
            format!(" ± {:.3} V (2u)", 2.0 * lost.u_drop_v)
        } else {
            String::new()
        };
        fields.push(field("wire", format!("{:.1} mΩ/m, {}", lead.mohm_per_m, say_source(lead.source))));
        fields.push(field(
            "drop",
            format!("{:.3} V{u} (wire {:.3}, contacts {:.3})", lost.drop_v, lost.wire_v, lost.contacts_v),
        ));
        fields.extend(lead.at_load_v.map(|volts| field("at the servo", format!("{volts:.2} V"))));
        fields.push(field("ground lifted", format!("{:.2} V, off the signal's margin", lost.ground_lift_v)));
        fields.push(field(
            "heat",
            format!("{:.2} W in each contact, {:.2} W in the wire", lost.contact_heat_w, lost.wire_heat_w),
        ));
    }
    if let Some(gauge) = &answer.choose {
        fields.push(field(
            "smallest gauge",
            format!(
                "AWG {}: {:.3} V ({:.1} mΩ/m, at most {:.1}; {})",
                say_gauge(gauge.awg),
                gauge.drop_v,
                gauge.mohm_per_m,
                gauge.limit_mohm_per_m,
                say_source(gauge.source)
            ),
        ));
    }
    if let Some(supply) = &answer.supply {
        show_supply(&mut fields, supply);
    }
    if let Some(worst) = &answer.contacts {
        let text = format!("contact {}: {} mΩ: {}", worst.contact, worst.mohm, say_class(worst.class));
        fields.push(field("worst contact", text));
    }
    if let Some(crimp) = &answer.crimp {
        let source = match crimp.limit.source {
            CrimpSource::Ul486a => "UL 486A as connector makers give it",
            CrimpSource::FromMemory => "from memory, check before relying on it",
        };
        let least = format!("AWG {}: {} N or more ({source})", crimp.limit.awg, crimp.limit.least_n);
        fields.push(field("crimp", least));
        fields.extend(
            crimp.pulled_n.map(|n| field("sample", format!("came off at {n} N: {}", say_class(crimp.class)))),
        );
    }
    if let Some(slack) = &answer.slack {
        let left = &slack.left;
        let text = match left.re_terminations {
            0 => "none left: splice or replace the lead before the next failure".to_owned(),
            count => format!("{count} left, then {} mm", left.after_last_mm),
        };
        fields.push(field("re-terminations", format!("{text}; slack as it is: {}", say_class(left.class))));
        fields.extend(slack.halves_from_stock.map(|halves| field("halves from stock", halves.to_string())));
    }
    let judged = answer.supply.is_some()
        || answer.contacts.is_some()
        || answer.slack.is_some()
        || answer.crimp.as_ref().is_some_and(|crimp| crimp.pulled_n.is_some());
    reply(json, fields, judged.then_some(answer.class), &answer.cautions, &answer.method)
}

fn show_supply(fields: &mut Vec<(String, Cell)>, supply: &SupplyAnswer) {
    let load = &supply.load;
    let duty = match supply.duty_from {
        DutySource::Measured => "measured",
        DutySource::Given => "given",
        DutySource::Assumed => "assumed: measure the stir current",
    };
    let held = if load.holds_all_stalled { "the supply holds it" } else { "more than the supply gives" };
    fields.push(field("all stalled", format!("{:.2} A: {held}", load.all_stalled_a)));
    fields.push(field("stirred", format!("{:.2} A at {:.0} % duty ({duty})", load.demand_a, load.duty_pct)));
    fields.push(field(
        "margin",
        format!(
            "{:.0} % of the peak, {:.0} wanted: {}",
            load.margin_pct,
            supply.wanted_margin_pct,
            say_class(supply.class)
        ),
    ));
}

const fn say_source(source: WireSource) -> &'static str {
    match source {
        WireSource::CopperArea => "by copper area",
        WireSource::TableGreatest => "greatest of the table",
        WireSource::AreaAndLay => "by area and lay, no table holds it",
        WireSource::Given => "as measured",
    }
}

/// Gauges thicker than 1 are written 1/0 to 4/0.
fn say_gauge(awg: i32) -> String {
    if awg > 0 { awg.to_string() } else { format!("{}/0", 1 - awg) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gauges_and_servos_are_written_as_people_write_them() {
        assert_eq!([say_gauge(22), say_gauge(0), say_gauge(-3)], ["22", "1/0", "4/0"]);
        assert_eq!(servos("2:1.8"), Ok(ServoDraw { count: 2, stall_a: 1.8 }));
        for bad in ["2", "2:x", "-1:2", "2:inf"] {
            assert!(servos(bad).is_err(), "{bad}");
        }
    }
}
