//! Everything that can go wrong with a request, as RFC 9457 problems: one closed list, one table of codes.
//!
//! A problem says in one sentence what to mend. The inner text of a fault is logged once, with the id of the
//! request, and never sent.

use actix_web::http::{StatusCode, header};
use actix_web::{HttpResponse, ResponseError};
use preen_domain::asked::Refused;
use preen_domain::facts::QuestionReason;
use preen_domain::rules::{Broken, Kind};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::db::door::{DoorError, Failure};
use crate::photos::picture::BadPicture;
use crate::watch::cut::cut;
use crate::watch::health::Unready;

/// Why access was refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TokenFault {
    /// There is no `Authorization: Bearer …`.
    Missing,
    /// It is not `preen_<club>_<secret>`.
    Malformed,
    /// No such token is known.
    Unknown,
    /// Its time has passed.
    Expired,
    /// It was taken back.
    Revoked,
}

/// One thing that is wrong with one field.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct FieldError {
    /// JSON pointer to the field.
    #[schema(example = "/occurred_at")]
    pub pointer: String,
    /// Stable code for programs.
    #[schema(example = "in_the_future")]
    pub code: String,
    /// What is wrong and how to mend it.
    pub text: String,
}

impl FieldError {
    /// From its three parts.
    pub fn new(pointer: impl Into<String>, code: &str, text: impl Into<String>) -> Self {
        Self { pointer: pointer.into(), code: code.to_owned(), text: text.into() }
    }
}

/// A request that was not done, and why.
#[derive(Clone, Debug, PartialEq)]
pub enum Problem {
    /// 401: nobody, or not for sure.
    NotSignedIn(TokenFault),
    /// 401: club, member and password do not belong together.
    SignInWrong,
    /// 401: the cookie is of no session, or of one that has ended.
    SessionEnded,
    /// 403: a page of another origin sent it.
    OriginForeign,
    /// 403: it does not show the session's CSRF token.
    CsrfTokenWrong,
    /// 403: signed in with a one-time password that must be replaced first.
    PasswordMustChange,
    /// 429: too many failed attempts to sign in; the seconds to wait.
    TooManyAttempts(i64),
    /// 403: known, but may not.
    NotAllowed(String),
    /// 403: the token lacks a scope.
    ScopeMissing(&'static str),
    /// 403: a token in a link may do more than the link is for.
    LinkTooPowerful,
    /// 404: it is not there, or not for the asker.
    NotFound(String),
    /// 404: no such path.
    NoSuchPath,
    /// 405: the path is there, the method is not.
    MethodNotAllowed,
    /// 400: not JSON.
    MalformedJson(String),
    /// 400: a parameter of the query string.
    BadParameter {
        /// Its name.
        name: String,
        /// What is wrong and how to mend it.
        text: String,
    },
    /// 422: fields that do not fit.
    InvalidFields(Vec<FieldError>),
    /// 409: another item has this id.
    IdTaken(String),
    /// 409: another item has this tag.
    TagTaken(String),
    /// 409: a rule of the record.
    RefusedByRule(Vec<FieldError>),
    /// 428: `If-Match` is needed.
    PreconditionMissing,
    /// 412: somebody else was faster.
    PreconditionFailed(String),
    /// 413: too long.
    TooLarge(usize),
    /// 408: it came too slowly.
    TooSlow,
    /// 415: not sent as JSON.
    NotJson,
    /// 415: sent packed.
    Packed,
    /// 415: not a picture that can be read.
    NotAPicture(String),
    /// 413: a picture with more pixels than can be handled.
    TooManyPixels(String),
    /// 503: too many wait.
    Busy,
    /// 503: of no use just now.
    NotReady(Unready),
    /// 503: no room.
    StorageFull,
    /// 500: the service's own fault. The text is logged only.
    Internal(String),
}

/// The JSON of a problem (RFC 9457).
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ProblemBody {
    /// A URI for the kind of problem: `urn:preen:problem:` and the code.
    #[serde(rename = "type")]
    pub kind: String,
    /// The kind in a few words.
    pub title: String,
    /// The HTTP status.
    pub status: u16,
    /// What is wrong here and how to mend it.
    pub detail: String,
    /// Stable code for programs.
    pub code: String,
    /// All that is wrong, field by field.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub errors: Vec<FieldError>,
}

impl Problem {
    /// A parameter of the query string that does not fit.
    pub fn bad_parameter(name: &str, text: String) -> Self {
        Self::BadParameter { name: name.to_owned(), text }
    }

    /// Whether it is the service that cannot do it now, whatever was sent.
    pub const fn is_of_the_service(&self) -> bool {
        matches!(self, Self::Busy | Self::StorageFull | Self::NotReady(_) | Self::Internal(_))
    }

    /// One field that does not fit.
    pub fn field(pointer: impl Into<String>, text: impl Into<String>) -> Self {
        Self::InvalidFields(vec![FieldError::new(pointer, "invalid", text)])
    }

    /// One field that cannot even be read as what it must be.
    pub fn unreadable(pointer: impl Into<String>, text: impl Into<String>) -> Self {
        Self::InvalidFields(vec![FieldError::new(pointer, "unreadable", text)])
    }

    /// Rules that a fact breaks: values that cannot be right come before what stands against the record.
    pub fn broken_rules(broken: &[Broken]) -> Self {
        let list = |kind: Kind| -> Vec<FieldError> {
            let of_kind = broken.iter().filter(|rule| rule.kind == kind);
            of_kind.map(|rule| FieldError::new(&*rule.pointer, rule.code, sentence(&rule.text))).collect()
        };
        let values = list(Kind::Value);
        if values.is_empty() { Self::RefusedByRule(list(Kind::Record)) } else { Self::InvalidFields(values) }
    }

    /// All that is wrong, as a question keeps it.
    pub fn reasons(&self) -> Vec<QuestionReason> {
        let body = self.body();
        if body.errors.is_empty() {
            return vec![QuestionReason { code: body.code, pointer: String::new(), text: body.detail }];
        }
        let reason = |FieldError { pointer, code, text }| QuestionReason { code, pointer, text };
        body.errors.into_iter().map(reason).collect()
    }

    /// Status, code and title.
    pub const fn kind(&self) -> (StatusCode, &'static str, &'static str) {
        match self {
            Self::NotSignedIn(fault) => (
                StatusCode::UNAUTHORIZED,
                match fault {
                    TokenFault::Missing => "token_missing",
                    TokenFault::Malformed => "token_malformed",
                    TokenFault::Unknown => "token_unknown",
                    TokenFault::Expired => "token_expired",
                    TokenFault::Revoked => "token_revoked",
                },
                "Not signed in",
            ),
            Self::SignInWrong => (StatusCode::UNAUTHORIZED, "sign_in_wrong", "Not signed in"),
            Self::SessionEnded => (StatusCode::UNAUTHORIZED, "session_ended", "Not signed in"),
            Self::OriginForeign => (StatusCode::FORBIDDEN, "origin_foreign", "Sent by another origin"),
            Self::CsrfTokenWrong => (StatusCode::FORBIDDEN, "csrf_token_wrong", "The CSRF token is wrong"),
            Self::PasswordMustChange => {
                (StatusCode::FORBIDDEN, "password_must_change", "Choose a password first")
            }
            Self::TooManyAttempts(_) => {
                (StatusCode::TOO_MANY_REQUESTS, "too_many_attempts", "Too many attempts")
            }
            Self::NotAllowed(_) => (StatusCode::FORBIDDEN, "not_allowed", "Not allowed"),
            Self::ScopeMissing(_) => (StatusCode::FORBIDDEN, "scope_missing", "The token lacks a scope"),
            Self::LinkTooPowerful => {
                (StatusCode::FORBIDDEN, "link_too_powerful", "The token in the link may do too much")
            }
            Self::NotFound(_) => (StatusCode::NOT_FOUND, "not_found", "Not found"),
            Self::NoSuchPath => (StatusCode::NOT_FOUND, "no_such_path", "No such path"),
            Self::MethodNotAllowed => {
                (StatusCode::METHOD_NOT_ALLOWED, "method_not_allowed", "No such method here")
            }
            Self::MalformedJson(_) => (StatusCode::BAD_REQUEST, "malformed_json", "Not JSON"),
            Self::BadParameter { .. } => {
                (StatusCode::BAD_REQUEST, "bad_parameter", "A parameter does not fit")
            }
            Self::InvalidFields(_) => {
                (StatusCode::UNPROCESSABLE_ENTITY, "invalid_fields", "Fields do not fit")
            }
            Self::IdTaken(_) => (StatusCode::CONFLICT, "id_taken", "The id is taken"),
            Self::TagTaken(_) => (StatusCode::CONFLICT, "tag_taken", "The tag is taken"),
            Self::RefusedByRule(_) => {
                (StatusCode::CONFLICT, "refused_by_rule", "Refused by a rule of the record")
            }
            Self::PreconditionMissing => {
                (StatusCode::PRECONDITION_REQUIRED, "if_match_missing", "If-Match is needed")
            }
            Self::PreconditionFailed(_) => (StatusCode::PRECONDITION_FAILED, "stale", "Changed meanwhile"),
            Self::TooLarge(_) => (StatusCode::PAYLOAD_TOO_LARGE, "too_large", "Too large"),
            Self::TooSlow => (StatusCode::REQUEST_TIMEOUT, "too_slow", "Too slow"),
            Self::Packed => (StatusCode::UNSUPPORTED_MEDIA_TYPE, "packed", "Sent packed"),
            Self::NotJson => (StatusCode::UNSUPPORTED_MEDIA_TYPE, "not_json", "Not sent as JSON"),
            Self::NotAPicture(_) => (StatusCode::UNSUPPORTED_MEDIA_TYPE, "not_a_picture", "Not a picture"),
            Self::TooManyPixels(_) => (StatusCode::PAYLOAD_TOO_LARGE, "too_many_pixels", "Too many pixels"),
            Self::Busy => (StatusCode::SERVICE_UNAVAILABLE, "busy", "Busy"),
            Self::NotReady(why) => (StatusCode::SERVICE_UNAVAILABLE, why.code(), "Not ready"),
            Self::StorageFull => (StatusCode::SERVICE_UNAVAILABLE, "storage_full", "No room left"),
            Self::Internal(_) => (StatusCode::INTERNAL_SERVER_ERROR, "internal", "A fault of the service"),
        }
    }

    fn detail(&self) -> String {
        match self {
            Self::NotSignedIn(TokenFault::Missing) => {
                "Send `Authorization: Bearer preen_<club>_<secret>`, or sign in at /api/v1/session.".to_owned()
            }
            Self::NotSignedIn(TokenFault::Malformed) => {
                "The token does not read `preen_<club>_<secret>`. Copy it anew.".to_owned()
            }
            Self::NotSignedIn(TokenFault::Unknown) => {
                "No such token is known here. Check that it was copied whole and belongs to this service."
                    .to_owned()
            }
            Self::NotSignedIn(TokenFault::Expired) => "The token has expired. Make a new one.".to_owned(),
            Self::NotSignedIn(TokenFault::Revoked) => "The token was revoked. Make a new one.".to_owned(),
            Self::SignInWrong => "Club, member and password do not belong together.".to_owned(),
            Self::SessionEnded => "There is no such session, or it has ended. Sign in again.".to_owned(),
            Self::OriginForeign => {
                "A request with a session's cookie must come from a page of this service: its Origin must be \
                 the Host asked. Programs use a token."
                    .to_owned()
            }
            Self::CsrfTokenWrong => {
                "Send the `csrf_token` of GET /api/v1/session as X-CSRF-Token with every change.".to_owned()
            }
            Self::PasswordMustChange => {
                "A one-time password lets in once. Choose your own with PUT /api/v1/members/{id}/password, then \
                 sign in with it."
                    .to_owned()
            }
            Self::TooManyAttempts(wait_s) => {
                format!("Too many attempts failed. Wait {wait_s} seconds before the next.")
            }
            Self::NotAllowed(text)
            | Self::NotFound(text)
            | Self::MalformedJson(text)
            | Self::IdTaken(text)
            | Self::TagTaken(text)
            | Self::NotAPicture(text)
            | Self::TooManyPixels(text)
            | Self::PreconditionFailed(text) => text.clone(),
            Self::ScopeMissing(scope) => {
                format!("The token needs the scope `{scope}` for this. Make one that has it.")
            }
            Self::LinkTooPowerful => "A link is kept and passed on: put a token into it whose only scope is `calendar`."
                .to_owned(),
            Self::NoSuchPath => "There is nothing at this path. /docs lists what there is.".to_owned(),
            Self::MethodNotAllowed => {
                "The path does not know this method. The header Allow lists those it knows.".to_owned()
            }
            Self::BadParameter { name, text } => format!("Parameter `{name}`: {text}"),
            Self::InvalidFields(errors) => errors
                .iter()
                .map(|error| format!("{}: {}", error.pointer, error.text))
                .collect::<Vec<_>>()
                .join(" "),
            Self::RefusedByRule(errors) => {
                errors.iter().map(|error| error.text.clone()).collect::<Vec<_>>().join(" ")
            }
            Self::PreconditionMissing => {
                "Send the ETag of the version you have seen as If-Match, so that nobody's change is lost."
                    .to_owned()
            }
            Self::TooLarge(limit) => format!("The body is longer than the {limit} bytes allowed."),
            Self::TooSlow => "The body came too slowly, and was not waited for any longer. Nothing was recorded: send it again over a better line.".to_owned(),
            Self::Packed => "Send the body as it is, without Content-Encoding: nothing that is packed is unpacked here.".to_owned(),
            Self::NotJson => "Send the body as JSON, with `Content-Type: application/json`.".to_owned(),
            Self::NotReady(why) => why.text(),
            Self::Busy => "The service is busy just now. Nothing was recorded: send it again in a second.".to_owned(),
            Self::StorageFull => "The service has no room left on its disk. Nothing was recorded: tell its keeper, and send it again.".to_owned(),
            Self::Internal(_) => {
                "Something went wrong inside the service. It is logged under the request id of the header \
                 X-Request-Id."
                    .to_owned()
            }
        }
    }

    /// The body that is sent.
    pub fn body(&self) -> ProblemBody {
        let (status, code, title) = self.kind();
        let errors = match self {
            Self::InvalidFields(errors) | Self::RefusedByRule(errors) => errors.clone(),
            _ => Vec::new(),
        };
        ProblemBody {
            kind: format!("urn:preen:problem:{code}"),
            title: title.to_owned(),
            status: status.as_u16(),
            detail: self.detail(),
            code: code.to_owned(),
            errors,
        }
    }
}

/// A text as a sentence: a capital first, a full stop last.
pub fn sentence(text: &str) -> String {
    let mut chars = text.chars();
    let start = chars.next().map(|first| first.to_uppercase().collect::<String>()).unwrap_or_default();
    let end = if text.ends_with('.') { "" } else { "." };
    format!("{start}{}{end}", chars.as_str())
}

impl std::fmt::Display for Problem {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.detail())
    }
}

impl std::error::Error for Problem {}

impl ResponseError for Problem {
    fn status_code(&self) -> StatusCode {
        self.kind().0
    }

    fn error_response(&self) -> HttpResponse {
        if let Self::Internal(text) = self {
            tracing::error!(text = cut(text), "a request failed by a fault of the service");
        }
        let mut response = HttpResponse::build(self.status_code());
        response.content_type("application/problem+json");
        match self {
            Self::NotSignedIn(_) | Self::SignInWrong | Self::SessionEnded => {
                response.insert_header((header::WWW_AUTHENTICATE, "Bearer"));
            }
            Self::TooManyAttempts(wait_s) => {
                response.insert_header((header::RETRY_AFTER, wait_s.to_string()));
            }
            Self::Busy | Self::StorageFull | Self::NotReady(_) => {
                response.insert_header((header::RETRY_AFTER, "1"));
            }
            _ => {}
        }
        response.json(self.body())
    }
}

impl Failure for Problem {
    fn is_full(&self) -> bool {
        matches!(self, Self::StorageFull)
    }

    fn is_to_be_sent_again(&self) -> bool {
        matches!(self, Self::StorageFull | Self::Busy)
    }
}

impl From<Refused> for Problem {
    fn from(refused: Refused) -> Self {
        match refused {
            Refused::Parameter { name, text } => Self::BadParameter { name, text },
            Refused::NotFound(text) => Self::NotFound(text),
            Refused::NotAllowed(text) => Self::NotAllowed(text),
            Refused::NoSuchQuestion => Self::NoSuchPath,
        }
    }
}

impl From<BadPicture> for Problem {
    fn from(bad: BadPicture) -> Self {
        match bad {
            BadPicture::Unreadable(text) => Self::NotAPicture(text),
            BadPicture::TooManyPixels(..) => Self::TooManyPixels(sentence(&bad.to_string())),
        }
    }
}

impl From<DoorError> for Problem {
    fn from(error: DoorError) -> Self {
        match error {
            DoorError::Busy(_) | DoorError::Locked(_) => Self::Busy,
            DoorError::Full(_) => Self::StorageFull,
            DoorError::PlaceTaken(place) => {
                let text = format!("A part sits in one place, and a position holds one part: {place}.");
                Self::RefusedByRule(vec![FieldError::new("", "place_taken", text)])
            }
            DoorError::NoClub(_) => Self::NotSignedIn(TokenFault::Unknown),
            DoorError::Database(_) | DoorError::Broken(_) => Self::Internal(error.to_string()),
        }
    }
}
