package footbridge.peers;

import ca.uhn.fhir.context.FhirContext;
import ca.uhn.fhir.context.support.IValidationSupport;
import ca.uhn.fhir.jpa.api.config.JpaStorageSettings;
import ca.uhn.fhir.jpa.api.dao.DaoRegistry;
import ca.uhn.fhir.jpa.api.dao.IFhirSystemDao;
import ca.uhn.fhir.jpa.provider.JpaCapabilityStatementProvider;
import ca.uhn.fhir.jpa.provider.JpaSystemProvider;
import ca.uhn.fhir.jpa.search.DatabaseBackedPagingProvider;
import ca.uhn.fhir.parser.StrictErrorHandler;
import ca.uhn.fhir.rest.api.EncodingEnum;
import ca.uhn.fhir.rest.server.RestfulServer;
import ca.uhn.fhir.rest.server.provider.ResourceProviderFactory;
import ca.uhn.fhir.rest.server.util.ISearchParamRegistry;
import jakarta.servlet.DispatcherType;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.nio.file.StandardCopyOption;
import java.util.Arrays;
import java.util.EnumSet;
import java.util.HashMap;
import java.util.Map;
import java.util.Set;
import org.eclipse.jetty.ee10.servlet.FilterHolder;
import org.eclipse.jetty.ee10.servlet.ServletContextHandler;
import org.eclipse.jetty.ee10.servlet.ServletHolder;
import org.eclipse.jetty.server.Server;
import org.eclipse.jetty.server.ServerConnector;
import org.springframework.context.ApplicationContext;
import org.springframework.context.annotation.AnnotationConfigApplicationContext;

/**
 * A FHIR R4 record server for tests: parsing, search, transactions, conditions, versions and answers are
 * those of the HL7 Java libraries; ours is only what starts them and what a test has go wrong.
 *
 * <pre>RecordServer --port 0 --port-file FILE</pre>
 */
public final class RecordServer {
    private RecordServer() {}

    public static void main(String[] arguments) throws Exception {
        Map<String, String> options = read(arguments);
        ApplicationContext beans = new AnnotationConfigApplicationContext(Storage.class);
        Lacking lacking = new Lacking(beans.getBean(JpaStorageSettings.class));
        Control control = new Control(beans.getBean(DaoRegistry.class), lacking);
        Server server = listen(Integer.parseInt(options.getOrDefault("--port", "0")), fhir(beans, lacking), control);
        tell(Path.of(options.get("--port-file")), ((ServerConnector) server.getConnectors()[0]).getLocalPort());
        server.join();
    }

    private static Map<String, String> read(String[] arguments) {
        Map<String, String> options = new HashMap<>();
        for (int i = 0; i + 1 < arguments.length; i += 2) {
            options.put(arguments[i], arguments[i + 1]);
        }
        Set<String> known = Set.of("--port", "--port-file");
        if (arguments.length % 2 != 0 || !known.containsAll(options.keySet()) || !options.containsKey("--port-file")) {
            System.err.println("usage: RecordServer [--port N] --port-file FILE, not: " + Arrays.toString(arguments));
            System.exit(2);
        }
        return options;
    }

    private static RestfulServer fhir(ApplicationContext beans, Lacking lacking) {
        FhirContext context = beans.getBean(FhirContext.class);
        // An element that R4 does not know is refused instead of being dropped.
        context.setParserErrorHandler(new StrictErrorHandler());
        RestfulServer fhir = new RestfulServer(context);
        fhir.setDefaultResponseEncoding(EncodingEnum.JSON);
        fhir.registerProviders(beans.getBean(ResourceProviderFactory.class).createProviders());
        fhir.registerProvider(beans.getBean(JpaSystemProvider.class));
        fhir.setPagingProvider(beans.getBean(DatabaseBackedPagingProvider.class));
        fhir.setServerConformanceProvider(new JpaCapabilityStatementProvider(fhir, beans.getBean(IFhirSystemDao.class),
            beans.getBean(JpaStorageSettings.class), beans.getBean(ISearchParamRegistry.class), beans.getBean(IValidationSupport.class)));
        fhir.registerInterceptor(lacking);
        return fhir;
    }

    private static Server listen(int port, RestfulServer fhir, Control control) throws Exception {
        Server server = new Server();
        ServerConnector connector = new ServerConnector(server);
        connector.setHost("127.0.0.1");
        connector.setPort(port);
        server.addConnector(connector);
        ServletContextHandler handler = new ServletContextHandler("/");
        handler.addFilter(new FilterHolder(control), "/*", EnumSet.of(DispatcherType.REQUEST));
        handler.addServlet(new ServletHolder(fhir), "/*");
        server.setHandler(handler);
        server.start();
        return server;
    }

    /** Renamed into place, so that a waiting test never reads an empty file. */
    private static void tell(Path file, int port) throws IOException {
        Path made = Path.of(file + ".new");
        Files.writeString(made, port + "\n");
        Files.move(made, file, StandardCopyOption.ATOMIC_MOVE);
    }
}
