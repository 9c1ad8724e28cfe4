//! What is asked: every verdict is a pure function of the Fleet and a moment, one file per question.
//!
//! [`compute`] answers bench questions that know of no fleet at all.

mod balance;
mod ballast;
mod campaigns;
mod changes;
mod check_reasons;
mod class_check;
mod club;
pub mod compute;
mod contest_plan;
mod days_ahead;
mod defect_standing;
mod defects;
mod doubt;
mod due;
mod due_states;
mod failed_items;
mod findings;
mod first_flight;
mod history;
mod joiner_loss;
mod lifetime;
mod limits;
mod may_fly;
mod model_now;
mod moment;
mod openings;
mod part_life;
mod questions;
mod readiness;
mod reading_tried;
pub mod readings;
mod repair_sheet;
mod repair_told;
mod repeats;
mod seats;
mod service;
mod spares;
mod stock;
mod swap;
mod tightest;
mod trend;
mod type_exchange;
mod usage;
mod whereabouts;

pub use balance::{Balanced, CgInRange, Method, UnweighedMove, balance, mass_items};
pub use ballast::{BallastWanted, ModelBallast, NoBallast, ballast};
pub use campaigns::{
    ActionProgress, CampaignList, CampaignProgress, CampaignRow, CampaignShown, CampaignTarget, PartLeft,
    ReplacementNeed, TargetAction, TargetCounts, WaiverSaid, WorkGroup, WorkStep, campaign_progress,
    campaigns_said,
};
pub use changes::{AnswerChange, ChangedAnswer, ChangedBy, Changes, ModelChange, changes};
pub use class_check::{
    BallastStep, ClassCheck, ClassChecked, ClassCombination, ClassRow, SeatFilled, as_fitted, class_check,
};
pub use club::ClubSaid;
pub use contest_plan::{ContestPlan, NotPlanned, WorkItem, WorkWanted, contest_work, worker};
pub use days_ahead::{DayAhead, Whose, days_ahead, worked_out_at};
pub use defect_standing::{
    DefectEvent, DefectStanding, DeferralAnswer, DeferralPlan, DeferralSaid, defect_standing,
    open_defects_of_model, plan_deferral,
};
pub use doubt::{Doubt, doubts};
pub use due::{DueItem, DueList, due, due_of_model};
pub use due_states::{Counted, GroupDue, ModelDue, due_states};
pub use findings::{
    Family, FindingCounts, Findings, FlownFlight, FoundReading, PlacedFinding, findings, findings_of_model,
};
pub use history::{ComponentHistory, HistoryEvent, component_history};
pub use joiner_loss::{FaceLoss, JoinerLoss};
pub use lifetime::{
    AgeStretch, COMPARISON_METHOD, GroupComparison, GroupLife, LIFE_METHOD, SHOWN_BELOW, StretchSurvival,
    SurvivalAtAge, WeibullLife,
};
pub use limits::{HeldLimit, ModelLimits, model_limits};
pub use may_fly::{CAUTION, FleetBoard, ModelVerdict, NextDue, RestrictionSaid, may_fly, may_fly_one};
pub use moment::{Answer, Moment, frame};
pub use part_life::{
    GroupGrowth, GrowthComparison, KindLife, LifeOutcome, NO_BATCH, PartGrowth, PartLife, PartLifeQuestion,
    PartLifeRow, WearGrowth, part_life,
};
pub use questions::{OpenQuestions, QuestionStanding, open_questions};
pub use readiness::{
    Ahead, AltimeterAhead, CheckAhead, Claim, ClaimHow, ClaimedTwice, ClassWord, ContestReadiness, DoEarly,
    DoneThen, DueCause, EntryReadiness, FlightsAhead, LimitAhead, LimitKind, ModelReadiness, PackAhead,
    Readiness, ReadinessCounts, ReadinessFinding, ReadyTask, contest_readiness, entry_readiness,
    model_readiness,
};
pub use reading_tried::{ReadingTried, reading_tried};
pub use repair_sheet::{ReleaseShown, RepairSheet, SheetMember, SheetRow, repair_sheet};
pub use repeats::{defects_near_limit, repeat_defects, undeferred_defects};
pub use seats::{Candidate, Seat, candidates, seats};
pub use spares::{NoSpares, SpareRefused, SparesWanted, TeamSpares, TeamSparesKind, team_spares};
pub use stock::{LoosePart, Reservation, Stock, StockRow, stock};
pub use swap::{
    Exchange, FitRequest, RemoveRequest, SwapAnswer, SwapDelta, SwapPlan, SwapRequest, plan_fit,
    plan_removal, plan_swap,
};
pub use tightest::{Tightest, tightest};
pub use trend::{
    ComponentTrend, CountedFrom, LimitForecast, Refusal, TrendQuestion, TrendReading, UseRate,
    WHOLE_HISTORY_REFUSED, WearLimits, WearLine, WearSeries, component_trend,
};
pub use type_exchange::{BalanceExchange, ModelExchange, TypeExchange, exchange_of_type};
pub use usage::{ComponentUsage, ModelUsage, UsageSpan, component_usage, model_usage, usage_of_components};
pub use whereabouts::{WhereQuestion, WhereRow, Whereabouts, whereabouts};
