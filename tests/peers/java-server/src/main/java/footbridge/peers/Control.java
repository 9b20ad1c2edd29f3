package footbridge.peers;

import ca.uhn.fhir.jpa.api.dao.DaoRegistry;
import ca.uhn.fhir.jpa.searchparam.SearchParameterMap;
import ca.uhn.fhir.rest.api.server.SystemRequestDetails;
import com.fasterxml.jackson.databind.JsonNode;
import com.fasterxml.jackson.databind.ObjectMapper;
import jakarta.servlet.Filter;
import jakarta.servlet.FilterChain;
import jakarta.servlet.ServletException;
import jakarta.servlet.ServletOutputStream;
import jakarta.servlet.ServletRequest;
import jakarta.servlet.ServletResponse;
import jakarta.servlet.WriteListener;
import jakarta.servlet.http.HttpServletRequest;
import jakarta.servlet.http.HttpServletResponse;
import jakarta.servlet.http.HttpServletResponseWrapper;
import java.io.IOException;
import java.io.PrintWriter;
import java.io.Writer;
import java.util.ArrayDeque;
import java.util.ArrayList;
import java.util.Deque;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Set;
import java.util.TreeMap;
import java.util.TreeSet;
import org.eclipse.jetty.ee10.servlet.ServletContextRequest;
import org.hl7.fhir.instance.model.api.IBaseResource;
import org.hl7.fhir.r4.model.Identifier;
import org.hl7.fhir.r4.model.Property;

/** Not FHIR: what a test asks about the whole store, and what it has go wrong. The same routes as those of ../npm. */
final class Control implements Filter {
    private static final ObjectMapper JSON = new ObjectMapper();
    private static final List<String> TYPES = List.of("Device", "DiagnosticReport", "Observation", "Patient", "Provenance");

    private final DaoRegistry stores;
    private final Lacking lacking;
    private final Deque<JsonNode> faults = new ArrayDeque<>();
    private int before = 0;

    Control(DaoRegistry stores, Lacking lacking) {
        this.stores = stores;
        this.lacking = lacking;
    }

    @Override
    public void doFilter(ServletRequest asked, ServletResponse answered, FilterChain chain) throws IOException, ServletException {
        HttpServletRequest request = (HttpServletRequest) asked;
        HttpServletResponse response = (HttpServletResponse) answered;
        if (request.getRequestURI().startsWith("/$test/")) {
            answer(response, 200, route(request));
            return;
        }
        JsonNode fault = nextFault();
        if (fault == null) {
            chain.doFilter(request, response);
            return;
        }
        if (fault.path("commit").asBoolean()) {
            chain.doFilter(request, new Unheard(response));
        }
        fail(fault, request, response);
    }

    private Object route(HttpServletRequest request) throws IOException {
        return switch (request.getMethod() + " " + request.getRequestURI()) {
            case "GET /$test/counts" -> counts();
            case "GET /$test/doubles" -> doubles();
            case "POST /$test/fault" -> Map.of("waiting", add(JSON.readTree(request.getInputStream())));
            case "POST /$test/lacks" -> Map.of("lacks", lack(JSON.readTree(request.getInputStream())));
            default -> Map.of("error", "no control route " + request.getRequestURI());
        };
    }

    /** A fault with "after": N lets the next N requests pass. */
    private synchronized JsonNode nextFault() {
        if (faults.isEmpty()) {
            return null;
        }
        if (before < faults.peek().path("after").asInt(0)) {
            before++;
            return null;
        }
        before = 0;
        return faults.remove();
    }

    private synchronized int add(JsonNode fault) {
        for (int i = 0; i < fault.path("times").asInt(1); i++) {
            faults.add(fault);
        }
        return faults.size();
    }

    /** Faults that were not met yet are forgotten. */
    private synchronized Set<String> lack(JsonNode names) {
        Set<String> abilities = new TreeSet<>();
        names.forEach(name -> abilities.add(name.asText()));
        lacking.lack(abilities);
        faults.clear();
        before = 0;
        return abilities;
    }

    private static void fail(JsonNode fault, HttpServletRequest request, HttpServletResponse response) throws IOException {
        if (fault.path("drop").asBoolean()) {
            ServletContextRequest.getServletContextRequest(request).getConnectionMetaData().getConnection().getEndPoint().close();
            return;
        }
        fault.path("headers").fields().forEachRemaining(each -> response.setHeader(each.getKey(), each.getValue().asText()));
        answer(response, fault.path("status").asInt(503), Map.of("resourceType", "OperationOutcome", "issue",
            List.of(Map.of("severity", "error", "code", "transient", "diagnostics", "a fault set by the test"))));
    }

    private static void answer(HttpServletResponse response, int status, Object body) throws IOException {
        response.setStatus(status);
        response.setContentType("application/fhir+json");
        response.getOutputStream().write(JSON.writeValueAsBytes(body));
    }

    private List<IBaseResource> all(String type) {
        return stores.getResourceDao(type).search(new SearchParameterMap().setLoadSynchronous(true), new SystemRequestDetails())
            .getAllResources();
    }

    private Map<String, Integer> counts() {
        Map<String, Integer> counts = new TreeMap<>();
        int total = 0;
        for (String type : TYPES) {
            int count = all(type).size();
            if (count > 0) {
                counts.put(type, count);
            }
            total += count;
        }
        counts.put("total", total);
        return counts;
    }

    /** Identifiers that more than one resource of a type bears; what has none is known by its tags. */
    private List<Map<String, Object>> doubles() {
        List<Map<String, Object>> doubles = new ArrayList<>();
        for (String type : TYPES) {
            Map<String, TreeSet<String>> bearers = new LinkedHashMap<>();
            for (IBaseResource resource : all(type)) {
                for (String identity : identities(resource)) {
                    bearers.computeIfAbsent(identity, none -> new TreeSet<>()).add(resource.getIdElement().getIdPart());
                }
            }
            bearers.forEach((identity, ids) -> {
                if (ids.size() > 1) {
                    doubles.add(Map.of("type", type, "identifier", identity, "ids", ids));
                }
            });
        }
        return doubles;
    }

    private static List<String> identities(IBaseResource resource) {
        List<String> identities = new ArrayList<>();
        Property property = ((org.hl7.fhir.r4.model.Resource) resource).getNamedProperty("identifier");
        if (property != null) {
            property.getValues().forEach(value -> {
                Identifier identifier = (Identifier) value;
                identities.add(identifier.getSystem() + "|" + identifier.getValue());
            });
        } else {
            resource.getMeta().getTag().forEach(tag -> identities.add(tag.getSystem() + "|" + tag.getCode()));
        }
        return identities;
    }

    /** An answer that nobody gets. */
    private static final class Unheard extends HttpServletResponseWrapper {
        Unheard(HttpServletResponse response) {
            super(response);
        }

        @Override
        public ServletOutputStream getOutputStream() {
            return new ServletOutputStream() {
                @Override
                public void write(int each) {}

                @Override
                public boolean isReady() {
                    return true;
                }

                @Override
                public void setWriteListener(WriteListener listener) {}
            };
        }

        @Override
        public PrintWriter getWriter() {
            return new PrintWriter(Writer.nullWriter());
        }

        @Override
        public void flushBuffer() {}
    }
}
