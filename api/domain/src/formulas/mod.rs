//! Engineering and statistics that know nothing of a fleet: plain numbers in, plain numbers out.
//!
//! * [`balance`]: mass and CG of a list · [`weighing`]: mass and CG from scales · [`reconcile`]: list against scale
//! * [`reweigh`]: weighings taken together, by [`combine`] · [`support_check`]: what more readings say about the set-up
//! * [`swap`]: what changes do to a balance · [`trim`]: weight that moves a CG · [`inertia`]: moments about the CG · [`principal`]: its free axes
//! * [`ballast`]: whole slugs into cells for a wanted mass and CG
//! * [`planform`], [`wing`]: area, MAC, loading, twist · [`stability`]: neutral point and static margin
//! * [`calendar`]: days and months · [`interval`]: where the next due point falls · [`standing`]: clear, due, overdue
//! * [`forecast`], [`planned`]: when a count will be reached · [`trend`]: wear against use, limits reached, groups compared
//! * [`life`]: how long parts last, and how many spares that takes
//! * [`linkage`]: servo arm, rod and horn of a surface · [`cover`]: the arm under its cover
//! * [`wire`]: gauges, drop, supply, contacts · [`joiner`]: section, sanding, bending, rock · [`pack`]: fitness of packs
//! * [`schedule`]: work scheduled backwards from the moment by which it has to be done
//! * [`cure`]: how long resins take · [`scarf`]: tapers of repairs · [`class`]: watch, restrict, ground · [`class_limits`]: limits of contest classes · [`range`]: inputs outside their bounds · [`quantile`]: the distributions behind bounds
//!
//! Nothing here returns a number that is not finite: what cannot be computed is an error that says what to mend.

pub mod balance;
pub mod ballast;
pub mod calendar;
pub mod class;
pub mod class_limits;
pub mod combine;
pub mod cover;
pub mod cure;
pub mod forecast;
pub mod inertia;
pub mod interval;
pub mod joiner;
pub mod life;
pub mod linkage;
pub mod pack;
pub mod planform;
pub mod planned;
pub mod principal;
pub mod quantile;
pub mod range;
pub mod reconcile;
pub mod reweigh;
pub mod scarf;
pub mod schedule;
pub mod serial;
pub mod stability;
pub mod standing;
pub mod support_check;
pub mod swap;
pub mod trend;
pub mod trim;
pub mod weighing;
pub mod wing;
pub mod wire;

/// True when every number is finite.
pub(crate) fn all_finite(numbers: &[f64]) -> bool {
    numbers.iter().all(|number| number.is_finite())
}
