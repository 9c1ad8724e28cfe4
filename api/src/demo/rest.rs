//! A thin client of the public REST API: the demo comes in by the same door as everybody.

use serde_json::Value;

/// Access to one club of a running service.
#[derive(Clone)]
pub struct Rest {
    client: reqwest::Client,
    url: String,
    token: String,
}

/// Why a request came to nothing.
#[derive(Debug, thiserror::Error)]
pub enum RestError {
    /// The service did not answer.
    #[error("the service does not answer: {0}")]
    NoAnswer(#[from] reqwest::Error),
    /// What was to be sent cannot be written as JSON.
    #[error("cannot be sent: {0}")]
    Body(#[from] serde_json::Error),
    /// It refused; this is what it said.
    #[error("{method} {path}: {status} {text}")]
    Refused {
        /// GET or POST.
        method: &'static str,
        /// Path and query.
        path: String,
        /// Status code.
        status: u16,
        /// What it said.
        text: String,
    },
}

impl Rest {
    /// Access by a token.
    #[must_use]
    pub fn new(url: &str, token: &str) -> Self {
        Self {
            client: reqwest::Client::new(),
            url: url.trim_end_matches('/').to_owned(),
            token: token.to_owned(),
        }
    }

    /// The same service by another member's token.
    #[must_use]
    pub fn with_token(&self, token: &str) -> Self {
        Self { token: token.to_owned(), ..self.clone() }
    }

    /// Reads an answer.
    ///
    /// # Errors
    /// The service does not answer, or refuses.
    pub async fn get(&self, path: &str) -> Result<Value, RestError> {
        self.send("GET", path, self.client.get(self.address(path))).await
    }

    /// Records something or asks for a command.
    ///
    /// # Errors
    /// The service does not answer, or refuses.
    pub async fn post(&self, path: &str, body: &Value) -> Result<Value, RestError> {
        self.send("POST", path, self.client.post(self.address(path)).json(body)).await
    }

    /// Sets something anew.
    ///
    /// # Errors
    /// The service does not answer, or refuses.
    pub async fn put(&self, path: &str, body: &Value) -> Result<Value, RestError> {
        self.send("PUT", path, self.client.put(self.address(path)).json(body)).await
    }

    fn address(&self, path: &str) -> String {
        format!("{}/api/v1/{path}", self.url)
    }

    async fn send(
        &self,
        method: &'static str,
        path: &str,
        request: reqwest::RequestBuilder,
    ) -> Result<Value, RestError> {
        let response = request.bearer_auth(&self.token).send().await?;
        let status = response.status();
        if status.is_success() {
            return Ok(response.json().await?);
        }
        let text = response.text().await?;
        let problem = serde_json::from_str::<Value>(&text).unwrap_or_default();
        let text = problem.get("detail").and_then(Value::as_str).map_or(text, str::to_owned);
        Err(RestError::Refused { method, path: path.to_owned(), status: status.as_u16(), text })
    }
}
