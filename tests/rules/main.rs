//! What may not be recorded on the demo club, one wrong fact at a time: the rule that refuses it, the field it
//! points at, and the sentence that says what to mend.

mod campaign;
mod clear;
mod correct;
mod deferral;
mod install;
mod limits;
mod loan;
mod master;
mod may;
mod may_parts;
mod repair;
mod repair_work;
mod said;
mod usage;
