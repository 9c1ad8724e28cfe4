//! The only user of the network: asks the service, and turns what goes wrong into failures.
//!
//! Every request may be repeated without harm, because every id is made here. Redirects are not followed: a
//! token goes to the address that was given and nowhere else.

mod address;
mod away;

use std::cell::{OnceCell, RefCell};
use std::io::Read;
use std::time::Duration;

use chrono_tz::Tz;
use preen_domain::answers::ClubSaid;
use preen_domain::facts::Noun;
use preen_domain::text::Tag;
use preen_domain::time::Instant;
use reqwest::Url;
use reqwest::blocking::{Request, RequestBuilder, Response};
use reqwest::header::{
    AUTHORIZATION, CONTENT_TYPE, COOKIE, ETAG, HeaderValue, IF_MATCH, ORIGIN, RETRY_AFTER, SET_COOKIE,
};
use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde_json::Value;
use uuid::Uuid;

use crate::failure::{Failure, Kind, say_field};
use crate::field::from_copy::needs_service;
use crate::settings::Access;

use address::{check_address, is_loopback};
use away::Away;
pub use away::{Setting, said_of_age};

/// Bytes of an answer at most.
const MOST_ANSWER: u64 = 256 << 20;
/// Bytes of a file at most.
const MOST_FILE: u64 = 1 << 30;
/// Items of a list at most.
const MOST_ITEMS: usize = 2_000_000;

/// Parameters of a question.
pub type Query = Vec<(&'static str, String)>;

/// What the service answered.
pub struct Received {
    /// The body as it came.
    pub text: String,
    /// The validator of an item.
    pub etag: Option<String>,
    /// Whether something new was recorded.
    pub is_new: bool,
}

impl Received {
    /// Reads the body as a shape. A body of another shape is no answer.
    pub fn read<T: DeserializeOwned>(&self) -> Result<T, Failure> {
        serde_json::from_str(&self.text).map_err(|error| no_sense(&error.to_string()))
    }
}

/// A service, and what was asked of it so far.
pub struct Client {
    http: reqwest::blocking::Client,
    base: Url,
    token: Option<String>,
    club: OnceCell<ClubSaid>,
    mentioned: RefCell<Vec<(Noun, String)>>,
    /// The cookie and the CSRF token of a session, while there is one.
    session: RefCell<Option<(HeaderValue, HeaderValue)>>,
    away: Away,
}

#[derive(Deserialize)]
struct Problem {
    status: u16,
    detail: String,
    code: String,
    #[serde(default)]
    errors: Vec<FieldError>,
}

#[derive(Deserialize)]
struct CsrfToken {
    csrf_token: String,
}

#[derive(Deserialize)]
struct Page<T> {
    items: Vec<T>,
    next: Option<String>,
}

#[derive(Deserialize)]
struct Tagged {
    tag: Option<String>,
}

#[derive(Deserialize)]
struct FieldError {
    pointer: String,
    text: String,
}

impl Client {
    /// A client of a service that keeps nothing of it. Nothing is sent yet.
    pub fn new(access: &Access) -> Result<Self, Failure> {
        Self::with(access, Setting::none())
    }

    /// A client of a service that knows what to do where that does not answer. Nothing is sent yet.
    pub fn with(access: &Access, setting: Setting) -> Result<Self, Failure> {
        let base = check_address(&access.url)?;
        let mut builder = reqwest::blocking::Client::builder()
            .user_agent(concat!("preen/", env!("CARGO_PKG_VERSION")))
            .redirect(reqwest::redirect::Policy::none())
            .connect_timeout(Duration::from_secs(5))
            .timeout(Duration::from_secs(60));
        if is_loopback(&base) {
            builder = builder.no_proxy();
        }
        let http = builder.build().map_err(|error| {
            Failure::unreachable(format!("No connection can be made: {}.", chain(&error)))
        })?;
        Ok(Self {
            http,
            base,
            token: access.token.clone(),
            club: OnceCell::new(),
            mentioned: RefCell::new(Vec::new()),
            session: RefCell::new(None),
            away: Away::new(access, setting),
        })
    }

    /// The address of the service.
    pub fn service(&self) -> String {
        self.base.to_string()
    }

    /// An item's name as it was typed, id or tag; what cannot be either is refused here.
    pub fn name<'a>(&self, noun: Noun, name: &'a str) -> Result<&'a str, Failure> {
        if Uuid::parse_str(name).is_err()
            && let Err(error) = name.parse::<Tag>()
        {
            return Err(Failure::bad_input(format!("`{name}` is no tag and no id: it {error}.")));
        }
        self.mention(noun, name);
        Ok(name)
    }

    /// Remembers that an item was named, so that a name nobody knows can be mended.
    pub fn mention(&self, noun: Noun, name: &str) {
        self.mentioned.borrow_mut().push((noun, name.to_owned()));
    }

    /// The names that were typed, with the nouns they were looked for in.
    pub fn mentioned(&self) -> Vec<(Noun, String)> {
        self.mentioned.borrow().clone()
    }

    /// The club, the service's clock and who is asking; asked for once.
    pub fn club(&self) -> Result<&ClubSaid, Failure> {
        if let Some(club) = self.club.get() {
            return Ok(club);
        }
        let club = if self.is_away() {
            self.club_away()?
        } else {
            match self.get(&["club"], &[]).and_then(|said| said.read()) {
                Ok(club) => {
                    self.heard(&club);
                    club
                }
                Err(failure) => self.fall_back(failure)?,
            }
        };
        Ok(self.club.get_or_init(|| club))
    }

    /// The club's time zone.
    pub fn zone(&self) -> Result<Tz, Failure> {
        Ok(self.club()?.time_zone)
    }

    /// The time by the service's clock, when it was first asked.
    pub fn now(&self) -> Result<Instant, Failure> {
        Ok(self.club()?.now)
    }

    /// The tags of a noun's items, as far as they come at once; none where nobody can say.
    pub fn tags(&self, noun: Noun) -> Option<Vec<String>> {
        if self.is_away() {
            return self.tags_away(noun);
        }
        let list = self.get(&[noun.as_str()], &[("limit", "500".to_owned())]).ok()?;
        Some(list.read::<Page<Tagged>>().ok()?.items.into_iter().filter_map(|item| item.tag).collect())
    }

    /// All items of a noun, page by page.
    pub fn all<T: DeserializeOwned>(&self, noun: Noun) -> Result<Vec<T>, Failure> {
        let (mut items, mut cursor) = (Vec::new(), None::<String>);
        loop {
            let mut query = vec![("limit", "500".to_owned())];
            query.extend(cursor.clone().map(|cursor| ("cursor", cursor)));
            let page: Page<T> = self.get(&[noun.as_str()], &query)?.read()?;
            items.extend(page.items);
            match page.next {
                Some(next) if cursor.as_ref() == Some(&next) || items.len() >= MOST_ITEMS => {
                    return Err(no_sense("its list has no end"));
                }
                Some(next) => cursor = Some(next),
                None => return Ok(items),
            }
        }
    }

    /// Asks.
    pub fn get(&self, path: &[&str], query: &[(&str, String)]) -> Result<Received, Failure> {
        if self.is_away() {
            return self.get_away(path, query);
        }
        self.send(self.http.get(self.address(path, query)))
    }

    /// Asks for one item; `None` if there is none.
    pub fn find(&self, path: &[&str]) -> Result<Option<Received>, Failure> {
        if self.is_away() {
            return self.has_away(path);
        }
        let response = self.execute(self.http.get(self.address(path, &[])))?;
        if response.status().as_u16() == 404 {
            return Ok(None);
        }
        self.receive(response).map(Some)
    }

    /// Streams an answer of a kind as it comes.
    pub fn stream(
        &self,
        path: &[&str],
        query: &[(&str, String)],
        kind: &str,
    ) -> Result<impl Read + use<>, Failure> {
        // A long record takes longer than any one answer may.
        let request = self.http.get(self.address(path, query)).timeout(Duration::from_secs(3_600));
        let response = self.execute(request)?;
        if response.status().as_u16() == 200 && is_of_kind(&response, kind) {
            return Ok(response);
        }
        let received = self.receive(response)?;
        Err(no_sense(&format!("it sends no {kind}, but {} letters of something else", received.text.len())))
    }

    /// Fetches a file of a kind, such as `application/pdf`, as its bytes.
    pub fn download(&self, path: &[&str], query: &[(&str, String)], kind: &str) -> Result<Vec<u8>, Failure> {
        let response = self.execute(self.http.get(self.address(path, query)))?;
        if response.status().as_u16() == 200 && is_of_kind(&response, kind) {
            return self.read_up_to(response, MOST_FILE);
        }
        let received = self.receive(response)?;
        Err(no_sense(&format!("it sends no {kind}, but {} letters of something else", received.text.len())))
    }

    /// Records or computes.
    pub fn post(&self, path: &[&str], query: &[(&str, String)], body: &Value) -> Result<Received, Failure> {
        self.send(self.http.post(self.address(path, query)).json(body))
    }

    /// Sends a file as it is; the service looks at its content.
    pub fn upload(&self, path: &[&str], bytes: Vec<u8>) -> Result<Received, Failure> {
        let request =
            self.http.post(self.address(path, &[])).header(CONTENT_TYPE, "application/octet-stream");
        self.send(request.body(bytes))
    }

    /// Replaces the version that was seen.
    pub fn put(&self, path: &[&str], seen: &str, body: &Value) -> Result<Received, Failure> {
        self.send(self.http.put(self.address(path, &[])).header(IF_MATCH, seen).json(body))
    }

    /// Sets a value that has no versions.
    pub fn put_value(&self, path: &[&str], body: &Value) -> Result<Received, Failure> {
        self.send(self.http.put(self.address(path, &[])).json(body))
    }

    /// Takes something back.
    pub fn delete(&self, path: &[&str]) -> Result<Received, Failure> {
        self.send(self.http.delete(self.address(path, &[])))
    }

    /// Signs in with a password. What this client asks from then on, it asks in that session.
    pub fn sign_in(&self, body: &Value) -> Result<Received, Failure> {
        self.session.replace(None);
        let response = self.execute(self.http.post(self.address(&["session"], &[])).json(body))?;
        let cookie = response.headers().get(SET_COOKIE).and_then(|cookie| cookie.to_str().ok());
        let cookie = cookie.and_then(|cookie| cookie.split(';').next()).map(ToOwned::to_owned);
        let received = self.receive(response)?;
        let session: CsrfToken = received.read()?;
        let secret = |text: &str| {
            let mut value = HeaderValue::from_str(text).map_err(|error| no_sense(&error.to_string()))?;
            value.set_sensitive(true);
            Ok(value)
        };
        let cookie = cookie.ok_or_else(|| no_sense("it begins no session"))?;
        self.session.replace(Some((secret(&cookie)?, secret(&session.csrf_token)?)));
        Ok(received)
    }

    /// Ends the session.
    pub fn sign_out(&self) -> Result<(), Failure> {
        let ended = self.delete(&["session"]);
        self.session.replace(None);
        ended.map(|_| ())
    }

    fn address(&self, path: &[&str], query: &[(&str, String)]) -> Url {
        let mut url = self.base.clone();
        if let Ok(mut segments) = url.path_segments_mut() {
            segments.pop_if_empty().extend(["api", "v1"]).extend(path);
        }
        if !query.is_empty() {
            url.query_pairs_mut().extend_pairs(query);
        }
        url
    }

    fn send(&self, request: RequestBuilder) -> Result<Received, Failure> {
        let response = self.execute(request)?;
        self.receive(response)
    }

    fn execute(&self, request: RequestBuilder) -> Result<Response, Failure> {
        if self.is_away() {
            return Err(needs_service());
        }
        let mut request: Request = request.build().map_err(|error| self.no_answer(&error))?;
        if let Some(token) = &self.token {
            let mut value = HeaderValue::from_str(&format!("Bearer {token}")).map_err(|_not_a_header| {
                Failure::bad_input("The token holds characters that no token has. Copy it anew.")
            })?;
            value.set_sensitive(true);
            request.headers_mut().insert(AUTHORIZATION, value);
        }
        if let Some((cookie, csrf_token)) = &*self.session.borrow() {
            let origin = HeaderValue::from_str(&self.base.origin().ascii_serialization())
                .map_err(|error| no_sense(&error.to_string()))?;
            let headers = request.headers_mut();
            headers.insert(COOKIE, cookie.clone());
            headers.insert(ORIGIN, origin);
            headers.insert("x-csrf-token", csrf_token.clone());
        }
        self.http.execute(request).map_err(|error| self.no_answer(&error))
    }

    fn receive(&self, response: Response) -> Result<Received, Failure> {
        let status = response.status().as_u16();
        let header = |name| response.headers().get(name).and_then(|value| value.to_str().ok());
        let etag = header(ETAG).map(ToOwned::to_owned);
        let retry_after = header(RETRY_AFTER).map(ToOwned::to_owned);
        let is_json = header(CONTENT_TYPE).is_some_and(|kind| {
            let kind = kind.split(';').next().unwrap_or_default().trim();
            kind == "application/json" || kind == "application/problem+json"
        });
        let bytes = self.read_up_to(response, MOST_ANSWER)?;
        let text = String::from_utf8(bytes).map_err(|error| no_sense(&error.to_string()))?;
        match status {
            200 | 201 if is_json => Ok(Received { text, etag, is_new: status == 201 }),
            204 => Ok(Received { text, etag, is_new: false }),
            300..=399 => Err(no_sense(&format!("it sends elsewhere, with status {status}"))),
            _ => match serde_json::from_str::<Problem>(&text) {
                Ok(problem) if is_json => Err(self.explain(problem, retry_after.as_deref())),
                Ok(_) | Err(_) if status == 503 => Err(busy(retry_after.as_deref())),
                Ok(_) | Err(_) => Err(no_sense(&format!("status {status}"))),
            },
        }
    }

    /// The bytes of an answer, whatever its length is said to be.
    fn read_up_to(&self, response: Response, most: u64) -> Result<Vec<u8>, Failure> {
        let mut bytes = Vec::new();
        let read = response.take(most + 1).read_to_end(&mut bytes).map_err(|error| self.broke_off(&error))?;
        if u64::try_from(read).unwrap_or(u64::MAX) > most {
            return Err(no_sense(&format!("an answer of more than {} MiB", most >> 20)));
        }
        Ok(bytes)
    }

    fn broke_off(&self, error: &std::io::Error) -> Failure {
        Failure::unreachable(format!("{} does not answer: it breaks off ({error}).", self.base))
            .hint("Is the service running there? PREEN_URL or --url say where it is.")
    }

    fn no_answer(&self, error: &reqwest::Error) -> Failure {
        Failure::unreachable(format!("{} does not answer: {}.", self.base, chain(error)))
            .hint("Is the service running there? PREEN_URL or --url say where it is.")
    }

    fn explain(&self, problem: Problem, retry_after: Option<&str>) -> Failure {
        let kind = match problem.status {
            400 | 404 | 405 | 413 | 415 | 422 => Kind::BadInput,
            401 | 403 | 409 | 412 | 428 | 429 => Kind::Refused,
            503 => return busy(retry_after),
            _ => Kind::Unreachable,
        };
        let (text, details) = match problem.errors.as_slice() {
            [] => (problem.detail, Vec::new()),
            // What stands against the record says all by itself; a value that does not fit needs its field.
            [one] if kind == Kind::Refused => (one.text.clone(), Vec::new()),
            [one] => (said_of(one), Vec::new()),
            many => {
                let text = format!("{} things stand against it:", many.len());
                let say =
                    if kind == Kind::Refused { |error: &FieldError| error.text.clone() } else { said_of };
                (text, many.iter().map(say).collect())
            }
        };
        let failure = Failure { kind, text, details, hints: Vec::new(), problem: Some(problem.code.clone()) };
        match problem.code.as_str() {
            "token_missing" => Failure { text: "No token is known for this service.".to_owned(), ..failure }
                .hint("`preen login` stores one; PREEN_TOKEN gives one for a single run."),
            "token_malformed" | "token_unknown" | "token_expired" | "token_revoked" => {
                failure.hint("`preen login` stores another token.")
            }
            "no_such_path" | "method_not_allowed" => {
                failure.hint("Service and program may be of different versions: compare `preen --version`.")
            }
            _ => failure,
        }
    }
}

fn is_of_kind(response: &Response, kind: &str) -> bool {
    let said = response.headers().get(CONTENT_TYPE).and_then(|said| said.to_str().ok());
    said.is_some_and(|said| said.split(';').next().unwrap_or_default().trim() == kind)
}

/// One complaint: the field it is about, if it is about one, and what to mend.
fn said_of(error: &FieldError) -> String {
    say_field(&error.pointer, &error.text)
}

fn busy(retry_after: Option<&str>) -> Failure {
    let wait = match retry_after {
        Some("1") => "in a second".to_owned(),
        Some(seconds) if seconds.parse::<u32>().is_ok() => format!("in {seconds} seconds"),
        Some(_) | None => "in a moment".to_owned(),
    };
    Failure::unreachable("The service is busy or has no room; nothing was recorded.")
        .hint(format!("Try again {wait}."))
}

fn no_sense(why: &str) -> Failure {
    Failure::unreachable(format!("What answers there is not a Preen service this program knows: {why}."))
        .hint("PREEN_URL or --url say where it is; compare `preen --version` with the service's.")
}

/// An error with its causes, without saying the address twice.
fn chain(error: &reqwest::Error) -> String {
    let mut innermost: &dyn std::error::Error = error;
    while let Some(cause) = innermost.source() {
        innermost = cause;
    }
    if error.is_timeout() { "it takes too long".to_owned() } else { innermost.to_string() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_in_paths_cannot_climb_or_break_out() {
        let access = Access { url: "http://127.0.0.1:1/base".to_owned(), token: None, token_id: None };
        let client = Client::new(&access).unwrap();
        for bad in ["..", ".", "", "a/b", "a b", "a\u{1b}[2J"] {
            assert_eq!(client.name(Noun::Models, bad).unwrap_err().code(), 3, "{bad:?}");
        }
        let address = client.address(&["models", "SG-01"], &[("on", "2026-05-23".to_owned())]);
        assert_eq!(address.as_str(), "http://127.0.0.1:1/base/api/v1/models/SG-01?on=2026-05-23");
    }
}
