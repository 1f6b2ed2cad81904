#pragma once

/// The statuses that the page's answers use.
/// src  RFC 9110, section 15
namespace sumplog::http_status {

inline constexpr unsigned kOk = 200;
inline constexpr unsigned kBadRequest = 400;
inline constexpr unsigned kUnauthorized = 401;
inline constexpr unsigned kForbidden = 403;
inline constexpr unsigned kNotFound = 404;
inline constexpr unsigned kWrongMethod = 405;
inline constexpr unsigned kConflict = 409;
inline constexpr unsigned kLengthRequired = 411;
inline constexpr unsigned kTooLarge = 413;
inline constexpr unsigned kWrongType = 415;
inline constexpr unsigned kNotAccepted = 422;
inline constexpr unsigned kHeaderTooLarge = 431;  // RFC 6585, section 5
inline constexpr unsigned kUnavailable = 503;

}  // namespace sumplog::http_status
