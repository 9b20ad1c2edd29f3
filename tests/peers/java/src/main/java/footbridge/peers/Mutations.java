package footbridge.peers;

import ca.uhn.fhir.validation.ResultSeverityEnum;
import ca.uhn.fhir.validation.SingleValidationMessage;
import com.fasterxml.jackson.databind.DeserializationFeature;
import com.fasterxml.jackson.databind.JsonNode;
import com.fasterxml.jackson.databind.ObjectMapper;
import com.fasterxml.jackson.databind.node.ArrayNode;
import com.fasterxml.jackson.databind.node.ObjectNode;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import java.util.function.Function;

/**
 * Faults seeded one at a time. Each takes the first resource of the inputs whose profile ends in "profile" and
 * that has the place of the edit, sends it through the validator whole, broken, and broken without meta.profile:
 * it counts as caught by our profiles only if the first is clean, the second has an error and the third has not.
 */
final class Mutations {

  private static final ObjectMapper JSON =
      new ObjectMapper().enable(DeserializationFeature.USE_BIG_DECIMAL_FOR_FLOATS);

  private final Function<String, List<SingleValidationMessage>> validator;

  Mutations(Function<String, List<SingleValidationMessage>> validator) {
    this.validator = validator;
  }

  boolean run(Path file, List<String> inputs) throws IOException {
    List<JsonNode> bundles = new ArrayList<>();
    for (String input : inputs) {
      for (String line : Files.readAllLines(Path.of(input))) {
        bundles.add(JSON.readTree(line));
      }
    }
    int passed = 0;
    int failed = 0;
    for (JsonNode test : JSON.readTree(Files.readString(file))) {
      String verdict = verdict(test, bundles);
      if (verdict.isEmpty()) {
        passed++;
      } else {
        failed++;
        System.out.println("FAIL " + test.path("name").asText() + ": " + verdict);
      }
    }
    System.out.println(passed + " passed, " + failed + " failed");
    return failed == 0 && passed > 0;
  }

  private String verdict(JsonNode test, List<JsonNode> bundles) throws IOException {
    ObjectNode resource = find(test, bundles);
    if (resource == null) {
      return "no resource has such a place";
    }
    List<SingleValidationMessage> before = errors(resource);
    if (!before.isEmpty()) {
      return "the resource had errors before: " + before.get(0).getMessage();
    }
    ObjectNode broken = resource.deepCopy();
    change(broken, test);
    List<SingleValidationMessage> found = errors(broken);
    if (found.isEmpty()) {
      return "not caught";
    }
    System.out.println("caught " + test.path("name").asText() + ": " + found.get(0).getMessage());
    ((ObjectNode) broken.path("meta")).remove("profile");
    if (broken.path("meta").isEmpty()) {
      broken.remove("meta");
    }
    List<SingleValidationMessage> bare = errors(broken);
    return bare.isEmpty() ? "" : "caught without our profile, too: "
        + bare.get(0).getMessage();
  }

  private List<SingleValidationMessage> errors(JsonNode resource) {
    return validator.apply(resource.toString()).stream()
        .filter(m -> m.getSeverity() == ResultSeverityEnum.ERROR || m.getSeverity() == ResultSeverityEnum.FATAL)
        .toList();
  }

  private static ObjectNode find(JsonNode test, List<JsonNode> bundles) {
    String wanted = "/" + test.path("profile").asText();
    for (JsonNode bundle : bundles) {
      for (JsonNode entry : bundle.path("entry")) {
        JsonNode resource = entry.path("resource");
        boolean mine = resource.at("/meta/profile/0").asText().endsWith(wanted);
        if (mine && (!test.has("having") || !resource.at(test.path("having").asText()).isMissingNode())) {
          return (ObjectNode) resource.deepCopy();
        }
      }
    }
    return null;
  }

  /** "alsoRemove": member of the resource; "set": pointer and "to": value, or "remove": pointer; a last part "-" appends to a list. */
  private static void change(ObjectNode resource, JsonNode test) {
    boolean set = test.has("set");
    if (test.has("alsoRemove")) {
      resource.remove(test.path("alsoRemove").asText().substring(1));
    }
    String pointer = test.path(set ? "set" : "remove").asText();
    int at = pointer.lastIndexOf('/');
    JsonNode parent = resource.at(pointer.substring(0, at));
    String name = pointer.substring(at + 1);
    if (parent instanceof ArrayNode array) {
      if (!set) {
        array.remove(Integer.parseInt(name));
      } else if (name.equals("-")) {
        array.add(test.path("to"));
      } else {
        array.set(Integer.parseInt(name), test.path("to"));
      }
    } else if (set) {
      ((ObjectNode) parent).set(name, test.path("to"));
    } else if (((ObjectNode) parent).remove(name) == null) {
      throw new IllegalArgumentException("nothing to remove at " + pointer);
    }
  }
}
