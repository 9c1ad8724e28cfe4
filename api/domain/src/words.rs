//! One list of words each -> enum, parse, display, serde and schema. No rule lives here.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// A word that is not in the list it was looked up in.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{given}` is not one of: {allowed}")]
pub struct UnknownWord {
    /// What was given.
    pub given: String,
    /// The words that are allowed, separated by commas.
    pub allowed: String,
}

/// Makes an enum from one list of words.
#[macro_export]
macro_rules! text_enum {
    ($(#[$meta:meta])* $name:ident { $($(#[$vmeta:meta])* $variant:ident = $word:tt),+ $(,)? }) => {
        $(#[$meta])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
        pub enum $name { $($(#[$vmeta])* #[doc = concat!("Word `", $word, "`.")] #[serde(rename = $word)] $variant),+ }

        impl $name {
            /// All words of the list, in their order.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];

            /// The word as it stands in JSON, in the database and on the command line.
            #[must_use]
            pub const fn as_str(self) -> &'static str {
                match self { $(Self::$variant => $word),+ }
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result { f.pad(self.as_str()) }
        }

        impl std::str::FromStr for $name {
            type Err = $crate::words::UnknownWord;

            fn from_str(given: &str) -> Result<Self, Self::Err> {
                Self::ALL.iter().copied().find(|word| word.as_str() == given).ok_or_else(|| {
                    let allowed: Vec<&str> = Self::ALL.iter().map(|word| word.as_str()).collect();
                    $crate::words::UnknownWord { given: given.to_owned(), allowed: allowed.join(", ") }
                })
            }
        }
    };
}

text_enum! {
    /// How bad a finding is: it grounds the model, restricts it, or asks for a watchful eye.
    /// Ordered from mild to severe.
    Severity { Watch = "watch", Restrict = "restrict", Ground = "ground" }
}

text_enum! {
    /// How the picture of a photo is kept.
    PhotoType { Jpeg = "image/jpeg" }
}

text_enum! {
    /// What a model may do on a day.
    State {
        /// Nothing stands against flying it.
        Fit = "fit",
        /// May fly inside the stated restrictions.
        Restricted = "restricted",
        /// May not fly until something is done.
        Grounded = "grounded",
        /// A required position is empty.
        Incomplete = "incomplete",
        /// Taken out of use by its owner.
        LaidUp = "laid_up",
        /// Lent to somebody else.
        OnLoan = "on_loan",
    }
}

text_enum! {
    /// Where a check group stands against its due point.
    CheckState { Clear = "clear", Due = "due", Overdue = "overdue", NeverDone = "never_done" }
}

text_enum! {
    /// What kind of thing a part type is; a position accepts one kind.
    PartKind {
        Servo = "servo", Receiver = "receiver", SpeedController = "speed_controller", Motor = "motor",
        Gearbox = "gearbox", Pack = "pack", Joiner = "joiner", Panel = "panel", Fuselage = "fuselage",
        Altimeter = "altimeter", ConnectorHalf = "connector_half", TailFrame = "tail_frame", Sensor = "sensor",
        Propeller = "propeller", Other = "other",
    }
}

impl PartKind {
    /// Whether fitting one changes control, power or structure, so that the swap check opens
    /// (common practice, no source). A pack does not: an untested pack asks for its own check.
    #[must_use]
    pub const fn opens_swap_check(self) -> bool {
        match self {
            Self::Servo
            | Self::Receiver
            | Self::SpeedController
            | Self::Motor
            | Self::Gearbox
            | Self::Joiner
            | Self::Panel
            | Self::Fuselage
            | Self::ConnectorHalf
            | Self::TailFrame
            | Self::Propeller => true,
            Self::Pack | Self::Altimeter | Self::Sensor | Self::Other => false,
        }
    }
}

text_enum! {
    /// How single parts of a type are told apart.
    Tracking { Serial = "serial", Batch = "batch", SerialAndBatch = "serial_and_batch", Count = "count" }
}

text_enum! {
    /// The kept state of a component. Installed, on the shelf and lent are derived, never stored.
    ComponentState {
        NewUntested = "new_untested", Serviceable = "serviceable", Held = "held",
        Unserviceable = "unserviceable", InRepair = "in_repair", Scrapped = "scrapped",
    }
}

text_enum! {
    /// Who a model belongs to.
    Ownership { Member = "member", Club = "club", Visitor = "visitor" }
}

text_enum! {
    /// What a member may do in the club; one person may hold several.
    Role {
        Visitor = "visitor", Helper = "helper", Pilot = "pilot", Builder = "builder", Stores = "stores",
        TeamManager = "team_manager", Inspector = "inspector", SafetyOfficer = "safety_officer", Keeper = "keeper",
    }
}

text_enum! {
    /// Whether a member's subscription is paid.
    Subscription { Paid = "paid", Due = "due", NotApplicable = "not_applicable" }
}

text_enum! {
    /// What a token may be used for.
    Scope { Read = "read", Write = "write", Copy = "copy", History = "history", Calendar = "calendar" }
}

text_enum! {
    /// How the pilot graded a landing. `hard` opens the after-hard-landing check at once.
    Landing { Soft = "soft", Normal = "normal", Firm = "firm", Hard = "hard" }
}

text_enum! {
    /// What an interval counts.
    Counter {
        Flights = "flights", Launches = "launches", AirtimeH = "airtime_h", MotorS = "motor_s",
        Riggings = "riggings", Matings = "matings", Charges = "charges",
    }
}

text_enum! {
    /// What drives the wear of a part: the counters, and two that no interval runs on.
    WearCounter {
        Flights = "flights", Launches = "launches", AirtimeH = "airtime_h", MotorS = "motor_s",
        Riggings = "riggings", Matings = "matings", Charges = "charges",
        /// Times a lead was shortened and connected anew.
        Reterminations = "reterminations",
        /// Days on the shelf and off it.
        Days = "days",
    }
}

text_enum! {
    /// What opens an event group, or asks for it on the day.
    Opener {
        /// Asked after each flight on the day itself; never grounds a coming day.
        EachFlight = "each_flight",
        /// Asked before the first flight of a flying day.
        EachFlyingDay = "each_flying_day",
        /// Asked at each assembly.
        EachRigging = "each_rigging",
        /// Opened by a landing graded hard.
        HardLanding = "hard_landing",
        /// Opened by freight, posting or a fallen case.
        Transport = "transport",
        /// Opened by a change of receiver, antenna, transmitter module or firmware.
        RadioChange = "radio_change",
        /// Opened by fitting a part that changes control, power or structure.
        PartSwap = "part_swap",
        /// Opened by a repair, closed by its release.
        Repair = "repair",
        /// Opened by a contest entry.
        ContestEntry = "contest_entry",
    }
}

text_enum! {
    /// Result of a check as a whole.
    CheckResult { Pass = "pass", Restrict = "restrict", Fail = "fail" }
}

text_enum! {
    /// Result of one item of a check. Not looked at is never a pass.
    ItemResult {
        Pass = "pass", Fail = "fail", NotApplicable = "not_applicable", NotLookedAt = "not_looked_at",
    }
}

text_enum! {
    /// On which side of a limit the trouble lies.
    Direction {
        /// A reading at or above the limit is in its class.
        AtOrAbove = "at_or_above",
        /// A reading at or below the limit is in its class.
        AtOrBelow = "at_or_below",
        /// A reading above the limit is in its class; at the limit it still passes ("15 N or less").
        Above = "above",
        /// A reading below the limit is in its class; at the limit it still passes ("5.00 V or more").
        Below = "below",
    }
}

impl Direction {
    /// The sign that stands before a limit: a reading for which it is true has reached the limit.
    ///
    /// ```
    /// assert_eq!(preen_domain::words::Direction::AtOrAbove.sign(), "≥");
    /// ```
    #[must_use]
    pub const fn sign(self) -> &'static str {
        match self {
            Self::AtOrAbove => "≥",
            Self::AtOrBelow => "≤",
            Self::Above => ">",
            Self::Below => "<",
        }
    }

    /// Whether a reading has reached a limit, both in the same unit.
    ///
    /// ```
    /// use preen_domain::words::Direction;
    /// assert!(Direction::AtOrAbove.is_reached(1.2, 1.2));
    /// assert!(!Direction::Below.is_reached(5.0, 5.0));
    /// ```
    #[must_use]
    pub fn is_reached(self, reading: f64, limit: f64) -> bool {
        match self {
            Self::AtOrAbove => reading >= limit,
            Self::AtOrBelow => reading <= limit,
            Self::Above => reading > limit,
            Self::Below => reading < limit,
        }
    }
}

text_enum! {
    /// Where a limit comes from.
    LimitOrigin { Programme = "programme", Club = "club", WorkedOut = "worked_out" }
}

text_enum! {
    /// A restriction that the service can apply by itself.
    RestrictionKind {
        MaxFlights = "max_flights", UntilDate = "until_date", NoContest = "no_contest",
        NoLandingFlap = "no_landing_flap", MaxLaunchesPerCharge = "max_launches_per_charge",
        LightLaunchOnly = "light_launch_only", MaxWind = "max_wind", OwnerOnly = "owner_only",
    }
}

text_enum! {
    /// What is behind a defect, in one word, as far as somebody can tell.
    DefectCause {
        /// A surface moves the wrong way, or not at all.
        ControlDirection = "control_direction",
        /// The failsafe does not do what it is set to.
        Failsafe = "failsafe",
        /// The motor could start when it must not.
        MotorLock = "motor_lock",
        /// A crack in a joiner.
        JoinerCrack = "joiner_crack",
        /// Damage to a spar or to a boom.
        SparOrBoom = "spar_or_boom",
        /// A crack at a hinge.
        HingeCrack = "hinge_crack",
        /// A gear tooth that is missing or stripped.
        MissedTooth = "missed_tooth",
        /// A connector that loses contact for a moment.
        ConnectorFlicker = "connector_flicker",
        /// A pack that has swollen.
        SwollenPack = "swollen_pack",
        /// Worn by use.
        Wear = "wear",
        /// Hit something.
        Impact = "impact",
        /// Flown or launched harder than it stands.
        Overload = "overload",
        /// A bond that lets go.
        Bond = "bond",
        /// Tired material.
        Fatigue = "fatigue",
        /// A lead, a solder joint or a contact.
        Wiring = "wiring",
        /// Water or damp.
        Water = "water",
        /// Too hot.
        Heat = "heat",
        /// Old, whatever the use.
        Age = "age",
        /// Set or trimmed wrongly.
        Adjustment = "adjustment",
        /// Fitted or built wrongly.
        Assembly = "assembly",
        /// Came so from its maker.
        Maker = "maker",
        /// Something else, said in words.
        Other = "other",
        /// Nobody knows yet.
        Unknown = "unknown",
    }
}

impl DefectCause {
    /// Whether such a defect always grounds and is never deferred: control, failsafe, motor lock, cracked
    /// structure, gear teeth, loose contacts and swollen packs (common practice, no source).
    #[must_use]
    pub const fn is_never_deferred(self) -> bool {
        match self {
            Self::ControlDirection
            | Self::Failsafe
            | Self::MotorLock
            | Self::JoinerCrack
            | Self::SparOrBoom
            | Self::HingeCrack
            | Self::MissedTooth
            | Self::ConnectorFlicker
            | Self::SwollenPack => true,
            Self::Wear
            | Self::Impact
            | Self::Overload
            | Self::Bond
            | Self::Fatigue
            | Self::Wiring
            | Self::Water
            | Self::Heat
            | Self::Age
            | Self::Adjustment
            | Self::Assembly
            | Self::Maker
            | Self::Other
            | Self::Unknown => false,
        }
    }

    /// Whether it says enough to tell that the same came back.
    #[must_use]
    pub const fn is_known(self) -> bool {
        !matches!(self, Self::Unknown | Self::Other)
    }
}

text_enum! {
    /// Why a part came off. Only the first two are failures in life statistics.
    RemovalReason {
        Failed = "failed", OverLimit = "over_limit", Suspected = "suspected", Preventive = "preventive",
        Borrowed = "borrowed", Upgrade = "upgrade",
    }
}

text_enum! {
    /// Kind of repair, each with its own work sheet.
    RepairKind {
        JoinerTight = "R1", JoinerLoose = "R2", ConnectorRetermination = "R3", ServoCover = "R4",
        ServoSwapScrewed = "R5", ServoSwapBonded = "R6", Horn = "R7", Hinge = "R8", LeadingEdge = "R9",
        BoomOrFuselage = "R10", SparOrSocket = "R11", PackReplaced = "R12", MotorAndPropeller = "R13",
    }
}

text_enum! {
    /// What became of a step of a work sheet.
    StepResult { Done = "done", NotApplicable = "not_applicable" }
}

text_enum! {
    /// A connector half named by its metal contact: what is called male or female may be either the shell or the contact.
    ContactKind { Pin = "pin", Socket = "socket" }
}

text_enum! {
    /// How a servo cover makes room for the arm.
    ReliefKind { None = "none", Slot = "slot", ThinnerSheet = "thinner_sheet", Blister = "blister" }
}

text_enum! {
    /// How a defect was closed other than by the release of its repair.
    ClosureKind {
        /// The check that it asked for was passed.
        CheckPassed = "check_passed",
        /// A fresh look or measurement shows that there is nothing wrong.
        FoundWrong = "found_wrong",
        /// The part was scrapped.
        PartScrapped = "part_scrapped",
    }
}

text_enum! {
    /// What a campaign asks of each part it covers.
    CampaignTask { Measure = "measure", Replace = "replace", Inspect = "inspect" }
}

text_enum! {
    /// Where a part is that a campaign covers. Scrapped parts and those of models that are gone are never covered.
    TargetPlace {
        /// In a position that the campaign covers.
        Fitted = "fitted",
        /// Loose, and neither lent nor kept apart.
        Shelf = "shelf",
        /// Loose, or in a loose panel, and lent.
        Loaned = "loaned",
        /// Loose and held back.
        Held = "held",
        /// Loose and unserviceable, kept apart.
        Quarantine = "quarantine",
    }
}

text_enum! {
    /// How an action of a campaign stands on one part.
    Standing {
        /// Reading or inspection done, and it brought something to light that grounds or restricts.
        Failed = "failed",
        /// Not done, and its deadline is past.
        Overdue = "overdue",
        /// Not done yet.
        Open = "open",
        /// To be replaced, but not fitted: there is nothing to take out, and the campaign keeps it out.
        KeptOut = "kept_out",
        /// Done.
        Done = "done",
    }
}

text_enum! {
    /// What happened to a model or part besides flying, checking and mending.
    EventKind {
        /// Flown, posted, sent as freight, or driven more than 500 km: opens the transport check.
        Transport = "transport",
        /// The case fell: opens the transport check.
        CaseFallen = "case_fallen",
        /// Taken out of use by its owner; the calendar goes on.
        LaidUp = "laid_up",
        /// Back in use: asks for the flight-count and pack checks anew.
        ReturnedToFlying = "returned_to_flying",
        /// Sold: it leaves the board, its record stays.
        Sold = "sold",
        /// Lost.
        Lost = "lost",
        /// Written off.
        WrittenOff = "written_off",
        /// Put away for a time.
        Storage = "storage",
        /// Antenna, transmitter module or firmware changed: opens the radio check.
        RadioChange = "radio_change",
    }
}

impl EventKind {
    /// Whether the model is gone from the fleet.
    #[must_use]
    pub const fn ends_service(self) -> bool {
        match self {
            Self::Sold | Self::Lost | Self::WrittenOff => true,
            Self::Transport
            | Self::CaseFallen
            | Self::LaidUp
            | Self::ReturnedToFlying
            | Self::Storage
            | Self::RadioChange => false,
        }
    }
}

text_enum! {
    /// What a counted slug is for.
    SlugUse { Ballast = "ballast", NoseWeight = "nose_weight" }
}

text_enum! {
    /// What a class limits; the word carries the unit.
    ClassQuantity {
        Span = "span_mm", Area = "area_dm2", Mass = "mass_g", MassWithoutBattery = "mass_without_battery_g",
        Loading = "loading_g_dm2", NoseRadius = "nose_radius_mm", TowHookWidth = "tow_hook_width_mm",
        TowHookHeight = "tow_hook_height_mm", BatteryMass = "battery_mass_g", BatteryCells = "battery_cells",
        BatteryVoltage = "battery_voltage_v", Energy = "energy_w_min", MotorRun = "motor_run_s",
        MotorRuns = "motor_runs", Models = "models", MarkHeight = "mark_height_mm",
    }
}

text_enum! {
    /// Whether an entry stands.
    EntryState { Entered = "entered", Withdrawn = "withdrawn" }
}

text_enum! {
    /// What a member may do by a paper that ends on a day.
    PermissionKind {
        OperatorRegistration = "operator_registration", PilotCompetence = "pilot_competence",
        ClubAuthorisation = "club_authorisation", Insurance = "insurance", SportingLicence = "sporting_licence",
    }
}
