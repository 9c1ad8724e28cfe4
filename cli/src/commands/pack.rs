//! `preen pack`: fitness of a pack, voltage under load, launches for each charge and limits of carriers, computed on the
//! bench.

use preen_domain::answers::compute::{
    CapacityQuestion, CarriageAnswer, CarriageQuestion, LaunchQuestion, PackAnswer, PackQuestion,
    ResistanceQuestion, RestQuestion, SagQuestion, compute_pack,
};
use preen_domain::formulas::pack::capacity::LaunchDraw;
use preen_domain::formulas::pack::carriage::CarriageSubject;
use preen_domain::formulas::pack::resistance::PackResistance;

use super::balance::field;
use super::bench;
use super::bench_answer::{joined, reply, say_class};
use crate::Io;
use crate::failure::Failure;
use crate::output::{Cell, Reply};

/// Any of: resistance, load, capacity, launches, rest, carriage.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Resistance: --cells and --temperature, --new for the ratio. Voltage under load: --current and \
                        --open beside it. Launches: --run and --current beside --measured. Carriage: --carry and --rated. Exit \
                        code 1: something restricts; 2: something grounds."
)]
pub struct Args {
    /// The whole question as JSON, as the service takes it; `-` is the input
    #[arg(long, value_name = "FILE", conflicts_with = "PackTyped")]
    from: Option<String>,
    #[command(flatten)]
    typed: PackTyped,
}

/// What is asked, flag by flag.
#[derive(Debug, clap::Args)]
#[group(id = "PackTyped", multiple = true)]
pub struct PackTyped {
    /// Resistance of each cell, separated by commas
    #[arg(
        long,
        value_name = "MOHM,…",
        value_delimiter = ',',
        requires = "temperature",
        help_heading = "Resistance"
    )]
    cells: Vec<f64>,
    /// Temperature of the cells at the reading
    #[arg(
        long,
        value_name = "C",
        requires = "cells",
        allow_hyphen_values = true,
        help_heading = "Resistance"
    )]
    temperature: Option<f64>,
    /// The same cells as new, at 25 °C
    #[arg(
        long,
        value_name = "MOHM,…",
        value_delimiter = ',',
        requires = "cells",
        help_heading = "Resistance"
    )]
    new: Vec<f64>,
    /// Standard uncertainty of each reading
    #[arg(long, value_name = "MOHM", requires = "cells", default_value_t = 0.0, help_heading = "Resistance")]
    u_cells: f64,
    /// Standard uncertainty of the temperature
    #[arg(long, value_name = "K", requires = "cells", default_value_t = 0.0, help_heading = "Resistance")]
    u_temperature: f64,
    /// Current of the motor run
    #[arg(long, value_name = "A", help_heading = "Load")]
    current: Option<f64>,
    /// Voltage of each cell without load
    #[arg(long, value_name = "V", requires_all = ["cells", "current"], help_heading = "Load")]
    open: Option<f64>,
    /// Motor run of each launch
    #[arg(long, value_name = "S", requires_all = ["current", "measured"], help_heading = "Load")]
    run: Option<f64>,
    /// What receiver and servos take in each flight from the same pack
    #[arg(long, value_name = "MAH", requires = "run", default_value_t = 0.0, help_heading = "Load")]
    avionics: f64,
    /// What stays in the pack, per cent [default: 20]
    #[arg(long, value_name = "PCT", requires = "run", help_heading = "Load")]
    reserve: Option<f64>,
    /// Measured capacity
    #[arg(long, value_name = "MAH", requires = "rated", help_heading = "Capacity")]
    measured: Option<f64>,
    /// Rated capacity
    #[arg(long, value_name = "MAH", help_heading = "Capacity")]
    rated: Option<f64>,
    /// Standard uncertainty of the measured capacity
    #[arg(long, value_name = "MAH", requires = "measured", default_value_t = 0.0, help_heading = "Capacity")]
    u_measured: f64,
    /// Drop of each cell at rest, separated by commas
    #[arg(
        long,
        value_name = "MV,…",
        value_delimiter = ',',
        allow_hyphen_values = true,
        help_heading = "Rest"
    )]
    drops: Vec<f64>,
    /// Days at rest [default: 30]
    #[arg(long, value_name = "DAYS", requires = "drops", help_heading = "Rest")]
    days: Option<f64>,
    /// Cells of a pack that is to travel
    #[arg(long, value_name = "CELLS", requires = "rated", help_heading = "Carriage")]
    carry: Option<u32>,
    /// Its nominal voltage [default: 3.7 for each cell]
    #[arg(long, value_name = "V", requires = "carry", help_heading = "Carriage")]
    nominal: Option<f64>,
    /// Its state of charge, per cent
    #[arg(long, value_name = "PCT", requires = "carry", help_heading = "Carriage")]
    charge: Option<f64>,
}

/// Computes and shows.
pub fn run(args: &Args, io: &mut Io<'_>) -> Result<Reply, Failure> {
    let question = match &args.from {
        Some(file) => bench::read_question(io, file)?,
        None => question(&args.typed)?,
    };
    let (answer, json) = bench::compute(&question, compute_pack)?;
    Ok(show(json, &answer))
}

fn question(args: &PackTyped) -> Result<PackQuestion, Failure> {
    let resistance = args.temperature.map(|temperature_c| ResistanceQuestion {
        cells_mohm: args.cells.clone(),
        temperature_c,
        new_mohm: args.new.clone(),
        u_mohm: args.u_cells,
        u_temperature_k: args.u_temperature,
        limits: None,
    });
    let sag = match (args.current, args.open) {
        (Some(current_a), Some(open_v)) => Some(SagQuestion { current_a, open_v }),
        _ => None,
    };
    let capacity = match (args.measured, args.rated) {
        (Some(measured_mah), Some(rated_mah)) => Some(CapacityQuestion {
            measured_mah,
            rated_mah,
            u_measured_mah: args.u_measured,
            limits_pct: None,
        }),
        _ => None,
    };
    let launch = match (args.run, args.current) {
        (Some(motor_s), Some(motor_a)) => Some(LaunchQuestion {
            draw: LaunchDraw { motor_s, motor_a, avionics_mah: args.avionics },
            reserve_pct: args.reserve,
        }),
        _ => None,
    };
    let rest = (!args.drops.is_empty()).then(|| RestQuestion {
        drops_mv: args.drops.clone(),
        days: args.days,
        limits_mv: None,
    });
    let carriage = match (args.carry, args.rated) {
        (Some(cells), Some(rated_mah)) => {
            Some(CarriageQuestion { cells, rated_mah, nominal_v: args.nominal, charge_pct: args.charge })
        }
        _ => None,
    };
    let question = PackQuestion { resistance, sag, capacity, launch, rest, carriage };
    if question == PackQuestion::default() {
        return Err(Failure::bad_input("Nothing is asked about a pack.")
            .hint("`preen pack --help` lists what can be asked; --from FILE takes a whole question."));
    }
    Ok(question)
}

fn show(json: String, answer: &PackAnswer) -> Reply {
    let mut fields = Vec::new();
    if let Some(pack) = &answer.resistance {
        show_resistance(&mut fields, pack);
    }
    if let Some(sag) = &answer.sag {
        for (name, under) in [("sag as measured", &sag.as_measured), ("sag at 25 °C", &sag.at_25)] {
            fields.push(field(
                name,
                format!(
                    "{} V, cell {} down to {:.2} V",
                    joined(under.cells_v.iter().copied(), 3),
                    under.lowest_cell,
                    under.lowest_cell_v
                ),
            ));
        }
    }
    if let Some(capacity) = &answer.capacity {
        let u = Some(2.0 * capacity.u_of_rated_pct).filter(|twice| *twice > 0.0);
        let u = u.map(|twice| format!(" ± {twice:.1} (2u)")).unwrap_or_default();
        let left = &capacity.left;
        fields.push(field(
            "capacity",
            format!("{:.1}{u} % of rated: {}", left.of_rated_pct, say_class(left.class)),
        ));
    }
    if let Some(launch) = &answer.launch {
        let charge = &launch.charge;
        fields.push(field(
            "usable",
            format!("{:.0} mAh at {:.0} % reserve", charge.usable_mah, launch.reserve_pct),
        ));
        fields.push(field(
            "each launch",
            format!("{:.0} mAh (motor {:.0})", charge.each_mah, charge.motor_mah),
        ));
        fields.push(field(
            "launches per charge",
            format!("{} ({:.2}, never rounded up)", charge.launches, charge.exact),
        ));
    }
    if let Some(rest) = &answer.rest {
        let odd = match (rest.odd_cell, rest.odd_mv) {
            (Some(cell), Some(mv)) => {
                format!(", cell {cell} {mv:+.0} mV beyond the median: {}", say_class(rest.class))
            }
            _ => ", a single cell: nothing to compare with".to_owned(),
        };
        fields
            .push(field("30 days at rest", format!("{} mV{odd}", joined(rest.cells_mv.iter().copied(), 0))));
    }
    if let Some(carriage) = &answer.carriage {
        show_carriage(&mut fields, carriage);
    }
    let is_judged = answer.resistance.is_some() || answer.capacity.is_some() || answer.rest.is_some();
    reply(json, fields, is_judged.then_some(answer.class), &answer.cautions, &answer.method)
}

fn show_resistance(fields: &mut Vec<(String, Cell)>, pack: &PackResistance) {
    let at_25 = joined(pack.cells.iter().map(|cell| cell.at_25_mohm), 2);
    let u = pack.cells.iter().map(|cell| 2.0 * cell.u_mohm).fold(0.0, f64::max);
    let u = if u > 0.0 { format!(", at most ± {u:.2} (2u)") } else { String::new() };
    fields.push(field("at 25 °C", format!("{at_25} mΩ{u}")));
    let ratios: Vec<f64> = pack.cells.iter().filter_map(|cell| cell.ratio_to_new).collect();
    if ratios.is_empty() {
        fields.push(field("times new", "not known: give --new, or judge against the other cells alone"));
    } else {
        let class = pack.cells.iter().map(|cell| cell.class).max().flatten();
        fields.push(field("times new", format!("{}: {}", joined(ratios, 2), say_class(class))));
    }
    if let Some(times) = pack.odd_times {
        let text = match pack.odd_cell {
            Some(cell) => format!("cell {cell}, {times:.2} times the median cell"),
            None => "none".to_owned(),
        };
        fields.push(field("odd cell", text));
    }
}

fn show_carriage(fields: &mut Vec<(String, Cell)>, carriage: &CarriageAnswer) {
    fields.push(field("energy", format!("{:.2} Wh", carriage.pack_wh)));
    for limit in &carriage.limits {
        let name = match limit.subject {
            CarriageSubject::CellEnergy => "each cell",
            CarriageSubject::PackEnergy => "cabin, no approval",
            CarriageSubject::ChargeAlone => "sent alone, charge",
        };
        let text = match (limit.value, limit.is_within) {
            (Some(value), Some(true)) => format!("{value:.2} of at most {} {}", limit.most, limit.unit),
            (Some(value), _) => format!("{value:.2}, ABOVE {} {}", limit.most, limit.unit),
            (None, _) => format!("at most {} {}, not told (--charge)", limit.most, limit.unit),
        };
        fields.push(field(
            name,
            format!("{text}; edition {}, unconfirmed: confirm before travel", limit.edition),
        ));
    }
}
