//! Bench calculators: numbers in, numbers out, nothing looked up and nothing recorded.

use actix_web::{HttpResponse, post};
use preen_domain::answers::compute as bench;
use preen_domain::answers::compute::BadQuestion;

use crate::access::actor::Reader;
use crate::desk::DESK;
use crate::problem::Problem;
use crate::resources::body::{Body, parse_fact};
use crate::routes::Routes;

/// One handler a calculator: the question in the body, the answer of the pure function.
macro_rules! calculators {
    ($($text:literal $name:ident $path:literal: $question:ident => $answer:ident by $compute:ident;)+) => {
        $(
            #[doc = $text]
            #[utoipa::path(
                tag = "compute",
                request_body = bench::$question,
                responses((status = 200, description = "Computed.", body = bench::$answer))
            )]
            #[post($path)]
            pub async fn $name(_actor: Reader, body: Body) -> Result<HttpResponse, Problem> {
                let question: bench::$question = parse_fact("", body.read().await?)?;
                let answer: bench::$answer = bench::answer(&question, bench::$compute).map_err(refuse)?;
                Ok(HttpResponse::Ok().json(answer))
            }
        )+

        /// Registers the routes.
        pub fn routes(config: &mut Routes<'_, '_>) {
            config$(.service($name))+;
            config.service(plan_tasks);
        }
    };
}

calculators! {
    "Computes mass, centre of gravity and inertia of a list of items, and what changes do to them."
    balance_items "/compute/balance": BalanceQuestion => BalanceAnswer by compute_balance;
    "Computes mass and centre of gravity from the scales under supports, of one weighing or several, with what each part of the uncertainty costs."
    weigh_supports "/compute/weighing": WeighingQuestion => WeighingAnswer by compute_weighing;
    "Computes what lives tell: MTBF, survival by age and a Weibull law with bounds, groups compared, and the trend of repairs of whole systems."
    judge_lives "/compute/survival": SurvivalQuestion => SurvivalAnswer by compute_survival;
    "Chooses whole slugs for cells: for a wanted mass or loading, with the CG kept."
    choose_slugs "/compute/ballast": BallastQuestion => BallastAnswer by compute_ballast;
    "Computes areas, chords and loadings of a wing, and estimates neutral point and static margin."
    measure_planform "/compute/planform": PlanformQuestion => PlanformAnswer by compute_planform;
    "Computes when a check falls due by count and by days, how it stands, and when the count will be reached."
    compute_interval "/compute/interval": IntervalQuestion => IntervalAnswer by compute_interval;
    "Computes what a lead drops, the smallest gauge for a limit, the supply's margin, and the state of contacts."
    compute_wire "/compute/wire": WireQuestion => WireAnswer by compute_wire;
    "Computes a joiner's section, what sanding takes of it, what bends it, and clearance and rock of the tip."
    compute_joiner "/compute/joiner": JoinerQuestion => JoinerAnswer by compute_joiner;
    "Computes a pack's fitness, its voltage under load, launches for each charge, and limits of carriers."
    compute_pack "/compute/pack": PackQuestion => PackAnswer by compute_pack;
    "Computes what a linkage does: throws, play, torque, left against right, sizes for wanted throws, fit to measured ones."
    solve_linkage "/compute/linkage": LinkageQuestion => LinkageAnswer by compute_linkage;
    "Computes the gap between a servo's arm and its cover over the whole swing, and what helps where there is none."
    fit_cover "/compute/cover": CoverQuestion => CoverAnswer by compute_cover;
    "Fits a line or a polynomial to readings, with bands, the robust slope, and when a limit will be reached."
    fit_readings "/compute/regression": RegressionQuestion => RegressionAnswer by compute_regression;
    "Computes how many spares of each kind are enough, against stock, and what to pack."
    count_spares "/compute/spares": SparesQuestion => SparesAnswer by compute_spares;
}

/// Plans tasks backwards from a moment: when to begin at the latest, who does what when, what holds what up.
///
/// It may search for seconds: two plans are made at once, a few wait, and further ones are told that it is `busy`.
#[utoipa::path(
    tag = "compute",
    request_body = bench::PlanQuestion,
    responses((status = 200, description = "Computed.", body = bench::PlanAnswer))
)]
#[post("/compute/plan")]
pub async fn plan_tasks(_actor: Reader, body: Body) -> Result<HttpResponse, Problem> {
    let question: bench::PlanQuestion = parse_fact("", body.read().await?)?;
    let plan = DESK.compute(move || bench::answer(&question, bench::compute_plan)).await?.map_err(refuse)?;
    Ok(HttpResponse::Ok().json(plan))
}

fn refuse(bad: BadQuestion) -> Problem {
    Problem::field(bad.pointer, bad.text)
}
