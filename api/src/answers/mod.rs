//! Questions over HTTP, one file each: they translate, the domain answers.

pub mod ask;
pub mod balance;
pub mod ballast;
pub mod campaigns;
pub mod changes;
pub mod class_check;
pub mod club;
pub mod compute;
pub mod contest_plan;
pub mod defect;
pub mod due;
pub mod exchange;
pub mod findings;
pub mod kept;
pub mod life;
pub mod limits;
pub mod may_fly;
pub mod open_questions;
pub mod part_life;
pub mod readiness;
pub mod repair_release;
pub mod spares;
pub mod stock;
pub mod trend;
pub mod type_exchange;
pub mod whereabouts;
pub mod worksheets;

use crate::routes::Routes;

/// The routes of all questions.
pub fn routes(config: &mut Routes<'_, '_>) {
    club::routes(config);
    may_fly::routes(config);
    due::routes(config);
    findings::routes(config);
    whereabouts::routes(config);
    balance::routes(config);
    ballast::routes(config);
    campaigns::routes(config);
    contest_plan::routes(config);
    spares::routes(config);
    stock::routes(config);
    type_exchange::routes(config);
    changes::routes(config);
    defect::routes(config);
    life::routes(config);
    limits::routes(config);
    open_questions::routes(config);
    part_life::routes(config);
    trend::routes(config);
    exchange::routes(config);
    worksheets::routes(config);
    repair_release::routes(config);
    readiness::routes(config);
    class_check::routes(config);
    compute::routes(config);
}
