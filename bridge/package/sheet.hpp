#pragma once
// One assessment while its bundle is written: what all its resources share, and who is who.

#include <array>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "core/digest.hpp"
#include "core/issue.hpp"
#include "model/assessment.hpp"
#include "model/findings.hpp"
#include "package/options.hpp"
#include "package/prepared.hpp"
#include "tables/tables.hpp"

namespace footbridge::package {

/// A resource of the bundle that others refer to.
struct Member {
  Uuid uuid{};
  Side side = Side::None;
  bool written = false;
};

/// Everything needed to write the resources of one assessment.
struct Sheet {
  const Assessment& assessment;
  const Findings& findings;
  const Issues& issues;
  const Tables& tables;
  const Prepared& prepared;
  const BundleOptions& options;

  Uuid visit{};                    ///< names everything else
  Uuid patient{};                  ///< fullUrl if the bundle holds the patient
  std::vector<Member> readings{};  ///< one for each reading, in its order
  std::vector<Member> indices{};   ///< one for each index
  std::vector<Member> grades{};    ///< one for each grade; the CLTI grades of a leg share one
  std::vector<Member> flags{};
  std::vector<Uuid> instruments{};  ///< one for each instrument; used only where it has a serial
  std::array<Uuid, 2> panels{};
  std::array<Member, 2> armPanels{};  ///< an arm as a blood pressure, where the realm wants it
  Uuid report{};
  Uuid provenance{};

  std::string status{};   ///< FHIR status
  std::string subject{};  ///< a Reference
  std::string common{};   ///< ,"subject"...,"performer":[...]: the members every Observation has
  std::string commonOfReport{};  ///< the same of the report, where it differs
  std::string commonBefore{};    ///< the same for the figures of an earlier assessment
  std::string when{};            ///< "5 October 2026 10:20", for narratives
  /// Of every Observation: when, status and end of its narrative, and on to its identifier's value.
  std::string toIdentifier{};
  std::string fromIdentifier{};  ///< from there to its category: "status"
  mutable std::string notes{};   ///< room for those of the Observation that is being written
};

/// Fills in identities and shared members and decides what is written.
Sheet makeSheet(const Assessment& assessment, const Findings& findings, const Issues& issues,
                const Tables& tables, const Prepared& prepared, const BundleOptions& options,
                const UuidMaker& uuids);

/// {"reference":"urn:uuid:..."}.
void appendReference(std::string& out, const Uuid& uuid);

/// The logical reference of a party: {"type":...,"identifier":{...},"display":...}.
void appendParty(std::string& out, std::string_view type, const Party& party);

/// What was done to the record, by HL7 v3 DataOperation: CREATE, UPDATE, or NULLIFY for what is
/// withdrawn (standards notes, R3.3).
std::string activity(std::string_view code, std::string_view display);

/// {"system":...,"value":...}.
void appendIdentifier(std::string& out, const Identifier& identifier);

/// Whether name, gender and date of birth are known.
bool isNamed(const Patient& patient);

/// The identifier by which the record knows the patient: of the systems that the realm prefers the
/// first that is there, else the first of all.
const Identifier& mainIdentifier(const Patient& patient, const Realm& realm);

/// Opens an entry up to the narrative, whose XHTML is appended next; `meta` is ,"meta":{...} or "".
/// endNarrative() goes on to the
/// identifier of the resource. closeEntry() ends resource and entry with a conditional create by
/// that identifier, or with a conditional update if this is a later revision of the assessment.
void openEntry(std::string& out, const Sheet& sheet, Resource kind, const Uuid& uuid,
               std::string_view meta);
void endNarrative(std::string& out, const Sheet& sheet, Resource kind, const Uuid& uuid);
void closeEntry(std::string& out, const Sheet& sheet, Resource kind, const Uuid& uuid);

}  // namespace footbridge::package
