// The yardstick: libcurl alone posting bodies that lie ready in memory.
//
//   bare BASE BUNDLES.ndjson CONNECTIONS
//
// Prints the seconds from the first request to the last answer. Answers are read and thrown away.

#include <curl/curl.h>

#include <chrono>
#include <cstdio>
#include <fstream>
#include <string>
#include <vector>

namespace {

std::size_t drop(char*, std::size_t size, std::size_t count, void*) { return size * count; }

void prepare(CURL* handle, const std::string& base, curl_slist* headers, const std::string& body) {
  curl_easy_setopt(handle, CURLOPT_URL, base.c_str());
  curl_easy_setopt(handle, CURLOPT_HTTPHEADER, headers);
  curl_easy_setopt(handle, CURLOPT_POSTFIELDS, body.data());
  curl_easy_setopt(handle, CURLOPT_POSTFIELDSIZE_LARGE, static_cast<curl_off_t>(body.size()));
  curl_easy_setopt(handle, CURLOPT_UPLOAD_BUFFERSIZE, 512L << 10);
  curl_easy_setopt(handle, CURLOPT_WRITEFUNCTION, &drop);
}

}  // namespace

int main(int, char** argv) {
  std::vector<std::string> bodies;
  std::ifstream in(argv[2]);
  for (std::string line; std::getline(in, line);) bodies.push_back(line);
  const std::size_t connections = std::stoul(argv[3]);
  curl_global_init(CURL_GLOBAL_ALL);
  CURLM* multi = curl_multi_init();
  curl_slist* headers = curl_slist_append(nullptr, "Content-Type: application/fhir+json");
  headers = curl_slist_append(headers, "Expect:");
  const auto begin = std::chrono::steady_clock::now();
  std::size_t next = 0;
  std::size_t good = 0;
  const auto start = [&](CURL* handle) {
    prepare(handle, argv[1], headers, bodies[next++]);
    curl_multi_add_handle(multi, handle);
  };
  while (next < connections && next < bodies.size()) start(curl_easy_init());
  int running = 1;
  while (running > 0) {
    curl_multi_perform(multi, &running);
    int left = 0;
    while (const CURLMsg* message = curl_multi_info_read(multi, &left)) {
      CURL* handle = message->easy_handle;
      long status = 0;
      curl_easy_getinfo(handle, CURLINFO_RESPONSE_CODE, &status);
      good += message->data.result == CURLE_OK && status == 200 ? 1U : 0U;
      curl_multi_remove_handle(multi, handle);
      if (next == bodies.size()) continue;
      start(handle);
      running = 1;
    }
    curl_multi_poll(multi, nullptr, 0, 100, nullptr);
  }
  const std::chrono::duration<double> took = std::chrono::steady_clock::now() - begin;
  std::printf("%.6f %zu\n", took.count(), good);
  return good == bodies.size() ? 0 : 1;
}
