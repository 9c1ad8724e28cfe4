//! Published and independently computed cases that the formulas must reproduce, one file per subject, and the laws
//! that hold for all inputs. Each case names its source; "from memory" marks a source that was not at hand when the
//! case was written. Behaviour over HTTP and of the fleet is tested elsewhere.

use preen_reference as close;

mod balance;
mod ballast;
mod calendar;
mod class_limits;
mod cover;
mod csv_quoting;
mod cure;
mod forecast;
mod inertia;
mod intervals;
mod joiner;
mod laws;
mod laws_ballast;
mod laws_life;
mod laws_linkage;
mod laws_trend;
mod laws_weighing;
mod laws_wire;
mod life;
mod life_repairs;
mod linkage;
mod mass_list;
mod pack;
mod planform;
mod quantile;
mod questions;
mod schedule;
mod stability;
mod swap;
mod trend;
mod trim;
mod weighing;
mod wire;
