//! Requests to a running service and what came back.

use reqwest::blocking::{Client, RequestBuilder};
use serde_json::Value;

use crate::description;

/// What came back.
#[derive(Debug, Clone)]
pub struct Reply {
    /// HTTP status.
    pub status: u16,
    /// Headers, names in small letters.
    pub headers: Vec<(String, String)>,
    /// Body as text.
    pub text: String,
    /// Body as it came.
    pub bytes: Vec<u8>,
}

impl Reply {
    /// Sends a request. What comes back must be as described.
    #[track_caller]
    pub fn of(request: RequestBuilder) -> Self {
        let (client, request) = request.build_split();
        let request = request.unwrap();
        let (method, url) = (request.method().to_string(), request.url().clone());
        let response = client.execute(request).unwrap();
        let status = response.status().as_u16();
        let headers = response
            .headers()
            .iter()
            .map(|(name, value)| {
                (name.as_str().to_owned(), String::from_utf8_lossy(value.as_bytes()).into_owned())
            })
            .collect();
        let bytes = response.bytes().unwrap().to_vec();
        let text = String::from_utf8_lossy(&bytes).into_owned();
        description::check(&method, url.path(), status, &text);
        Self { status, headers, text, bytes }
    }

    /// The body as JSON.
    pub fn json(&self) -> Value {
        serde_json::from_str(&self.text).unwrap_or_else(|error| panic!("{error}: {}", self.text))
    }

    /// A header, if it was sent.
    pub fn header(&self, name: &str) -> Option<&str> {
        self.headers.iter().find(|(known, _)| known == name).map(|(_, value)| value.as_str())
    }

    /// The reply, which must have this status.
    #[track_caller]
    pub fn expect(self, status: u16) -> Self {
        assert_eq!(self.status, status, "{}", self.text);
        self
    }

    /// The stable code of a problem, which must have this status.
    #[track_caller]
    pub fn problem(&self, status: u16, code: &str) -> Value {
        assert_eq!(self.status, status, "{}", self.text);
        assert_eq!(self.header("content-type"), Some("application/problem+json"), "{}", self.text);
        let body = self.json();
        assert_eq!(body["code"], code, "{}", self.text);
        assert_eq!(body["status"], status);
        assert!(body["detail"].as_str().is_some_and(|text| text.len() > 10), "{}", self.text);
        body
    }

    /// The one field that is wrong: its pointer and code.
    #[track_caller]
    pub fn wrong_field(&self) -> (String, String, String) {
        let body = self.json();
        let errors = body["errors"].as_array().unwrap_or_else(|| panic!("{}", self.text));
        assert_eq!(errors.len(), 1, "{}", self.text);
        let part = |name: &str| errors[0][name].as_str().unwrap().to_owned();
        (part("pointer"), part("code"), part("text"))
    }
}

/// A client with one token.
#[derive(Debug, Clone)]
pub struct Caller {
    client: Client,
    base: String,
    /// The token it shows.
    pub token: String,
}

impl Caller {
    /// A client of a service.
    pub fn new(base: &str, token: &str) -> Self {
        // Every caller is its own client: nothing is shared but the service.
        let client = Client::builder().no_proxy().build().unwrap();
        Self { client, base: base.to_owned(), token: token.to_owned() }
    }

    /// A client of a service that encrypts, which trusts this certificate alone (PEM).
    pub fn trusting(base: &str, token: &str, cert: &[u8]) -> Self {
        let cert = reqwest::Certificate::from_pem(cert).unwrap();
        let client = Client::builder().no_proxy().https_only(true).tls_certs_only([cert]).build().unwrap();
        Self { client, base: base.to_owned(), token: token.to_owned() }
    }

    /// The same client with another token.
    pub fn with_token(&self, token: &str) -> Self {
        Self { token: token.to_owned(), ..self.clone() }
    }

    /// Where the service answers.
    pub fn base(&self) -> &str {
        &self.base
    }

    /// A request that has not been sent yet.
    pub fn request(&self, method: &str, path: &str) -> RequestBuilder {
        let is_outside =
            ["/health", "/docs", "/openapi", "/api", "/metrics"].iter().any(|start| path.starts_with(start));
        let url =
            if is_outside { format!("{}{path}", self.base) } else { format!("{}/api/v1{path}", self.base) };
        let request = self.client.request(method.parse().unwrap(), url);
        if self.token.is_empty() { request } else { request.bearer_auth(&self.token) }
    }

    /// Reads.
    pub fn get(&self, path: &str) -> Reply {
        Reply::of(self.request("GET", path))
    }

    /// Adds.
    pub fn post(&self, path: &str, body: &Value) -> Reply {
        Reply::of(self.request("POST", path).json(body))
    }

    /// Adds with a body as it is.
    pub fn post_text(&self, path: &str, body: &str) -> Reply {
        Reply::of(self.request("POST", path).header("content-type", "application/json").body(body.to_owned()))
    }

    /// Sends a file as it is.
    pub fn post_file(&self, path: &str, kind: &str, bytes: &[u8]) -> Reply {
        Reply::of(self.request("POST", path).header("content-type", kind).body(bytes.to_vec()))
    }

    /// Replaces, having seen a version.
    pub fn put(&self, path: &str, if_match: Option<&str>, body: &Value) -> Reply {
        let request = self.request("PUT", path).json(body);
        Reply::of(match if_match {
            Some(etag) => request.header("if-match", etag),
            None => request,
        })
    }
}
