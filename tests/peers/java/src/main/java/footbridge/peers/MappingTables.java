package footbridge.peers;

import com.fasterxml.jackson.databind.JsonNode;
import com.fasterxml.jackson.databind.ObjectMapper;
import java.io.IOException;
import java.math.BigDecimal;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.HashMap;
import java.util.List;
import java.util.Map;
import org.hl7.fhir.r4.model.CodeableConcept;
import org.hl7.fhir.r4.model.codesystems.DataAbsentReason;
import org.hl7.fhir.r4.model.codesystems.ObservationCategory;

/** The tables of mapping/ made ready once: every concept a CodeableConcept, every item with its path cut. */
final class MappingTables {

  /** An item on one side; side is null where the item has none, leg where it is no leg's. */
  record Spot(
      String id,
      String side,
      String leg,
      String key,
      String[] path,
      String kind,
      String name,
      String label,
      String unit,
      String unitLabel,
      String instrument,
      BigDecimal[] reject,
      BigDecimal[] query,
      CodeableConcept category,
      CodeableConcept code,
      CodeableConcept site,
      CodeableConcept method,
      Map<String, CodeableConcept> words) {}

  record IndexRow(String label, String unit, Map<String, CodeableConcept> code, Map<String, CodeableConcept> site) {}

  record PulseScale(String name, Map<Integer, String> meaning) {}

  /** A class of a rule set in hundredths; a null outcome is a span that the source leaves without a name. */
  record Band(String id, int from, int to, String outcome, String source) {}

  static final String[] SIDES = {"right", "left"};

  final Map<String, CodeableConcept> concepts = new HashMap<>();
  final List<Spot> spots = new ArrayList<>();
  final Map<String, IndexRow> indices = new HashMap<>();
  final Map<String, PulseScale> pulses = new HashMap<>();
  final Map<String, List<Band>> bands = new HashMap<>();
  final CodeableConcept exam = category("exam");
  final String ruleSet;
  String ruleSetName;
  final String digest;
  final String idBase;

  private final Map<String, Map<String, CodeableConcept>> words = new HashMap<>();
  private final Path directory;
  private final ObjectMapper json = new ObjectMapper();

  MappingTables(Path directory, String ruleSet) throws IOException {
    this.directory = directory;
    this.ruleSet = ruleSet;
    String base = json.readTree(directory.resolve("concepts.json").toFile()).get("canonicalBase").asText();
    idBase = base + "/id";
    digest = VisitRecord.sha256(Files.readAllBytes(directory.resolve("concepts.json")));
    for (JsonNode row : rows("concepts")) {
      concepts.put(row.get("id").asText(), codeable(row, base + "/fhir/CodeSystem/footbridge"));
    }
    for (JsonNode row : rows("words")) {
      Map<String, CodeableConcept> list = new HashMap<>();
      row.get("words").forEach(w -> list.put(w.get("word").asText(), concepts.get(w.get("concept").asText())));
      words.put(row.get("id").asText(), list);
    }
    for (JsonNode row : rows("items")) addSpots(row);
    for (JsonNode row : rows("indices")) addIndex(row);
    for (JsonNode row : rows("pulses")) addScale(row);
    for (JsonNode row : rows("rule_sets")) {
      if (!row.get("id").asText().equals(ruleSet)) continue;
      ruleSetName = row.get("name").asText();
      addBands(row);
    }
  }

  private JsonNode rows(String name) throws IOException {
    return json.readTree(directory.resolve(name + ".json").toFile()).get("rows");
  }

  private static CodeableConcept codeable(JsonNode row, String system) {
    CodeableConcept made = new CodeableConcept().setText(row.get("label").asText());
    for (JsonNode one : row.get("codings")) {
      if (!one.get("status").asText().equals("verified")) continue;
      made.addCoding()
          .setSystem(one.get("system").asText())
          .setCode(one.get("code").asText())
          .setDisplay(one.path("display").asText(null));
    }
    if (row.get("local").asBoolean()) {
      made.addCoding().setSystem(system).setCode(row.get("id").asText()).setDisplay(row.get("label").asText());
    }
    return made;
  }

  private static CodeableConcept category(String code) {
    ObservationCategory category = ObservationCategory.fromCode(code);
    CodeableConcept made = new CodeableConcept();
    made.addCoding().setSystem(category.getSystem()).setCode(code).setDisplay(category.getDisplay());
    return made;
  }

  /** A reason with room for a text of its own. */
  static CodeableConcept absence(String code, String text) {
    DataAbsentReason reason = DataAbsentReason.fromCode(code);
    CodeableConcept made = new CodeableConcept().setText(text);
    made.addCoding().setSystem(reason.getSystem()).setCode(code).setDisplay(reason.getDisplay());
    return made;
  }

  private void addSpots(JsonNode row) {
    String id = row.get("id").asText();
    String path = row.get("path").asText().substring(1);
    for (String side : row.get("side").asBoolean() ? SIDES : new String[] {null}) {
      String label = row.get("label").asText();
      spots.add(
          new Spot(
              id,
              side,
              path.startsWith("legs/") ? side : null,
              side == null ? id : id + "/" + side,
              path.replace("{side}", String.valueOf(side)).split("/"),
              row.get("kind").asText(),
              label,
              side == null ? label : label + ", " + side,
              row.path("unit").asText(),
              row.path("unitLabel").asText(),
              row.path("instrument").asText(null),
              span(row.path("reject")),
              span(row.path("query")),
              category(row.path("category").asText("exam")),
              concepts.get(row.path("concept").asText()),
              side == null ? null : concepts.get(row.path("site").path(side).asText()),
              concepts.get(row.path("method").asText()),
              words.get(row.path("words").asText())));
    }
  }

  /** Lower and upper figure, null where that side is open; null where there are no limits. */
  private static BigDecimal[] span(JsonNode pair) {
    if (pair.isMissingNode()) return null;
    BigDecimal[] made = new BigDecimal[2];
    for (int i = 0; i < made.length; ++i) made[i] = pair.get(i).isNull() ? null : pair.get(i).decimalValue();
    return made;
  }

  private void addIndex(JsonNode row) {
    Map<String, CodeableConcept> code = new HashMap<>();
    Map<String, CodeableConcept> site = new HashMap<>();
    for (String side : SIDES) {
      String common = row.get("concept").asText();
      code.put(side, concepts.get(row.path("conceptBySide").path(side).asText(common)));
      site.put(side, concepts.get(row.path("site").path(side).asText()));
    }
    IndexRow made = new IndexRow(row.get("label").asText(), row.get("unit").asText(), code, site);
    indices.put(row.get("id").asText(), made);
  }

  private void addScale(JsonNode row) {
    Map<Integer, String> meaning = new HashMap<>();
    row.get("meaning").fields().forEachRemaining(e -> meaning.put(Integer.valueOf(e.getKey()), e.getValue().asText()));
    pulses.put(row.get("id").asText(), new PulseScale(row.get("name").asText(), meaning));
  }

  private void addBands(JsonNode row) {
    for (String index : new String[] {"abi", "tbi"}) {
      List<Band> made = new ArrayList<>();
      for (JsonNode band : row.get(index)) {
        JsonNode from = band.has("source") ? band : row;
        String source = "Source: " + from.get("source").asText() + " (" + from.get("certainty").asText() + ").";
        made.add(
            new Band(
                band.get("id").asText(),
                hundredths(band.get("from"), 0),
                hundredths(band.get("to"), Integer.MAX_VALUE),
                band.get("outcome").isNull() ? null : band.get("outcome").asText(),
                source));
      }
      bands.put(index, made);
    }
  }

  private static int hundredths(JsonNode edge, int open) {
    return edge.isNull() ? open : new BigDecimal(edge.asText()).movePointRight(2).intValueExact();
  }
}
